//! One record of an export into rows of the house: every field through its cell reader, every rule of the trade applied,
//! everything that could not be used kept apart with its reason.
//!
//! **What a failure costs.** A field that the table cannot do without fails its row; any other field is left empty, the
//! row is kept with the flag `field-quarantined`, and the value goes to quarantine. If one record feeds several tables and
//! only some rows fail, the others are stored: a visit is not lost for a misspelt cause. The record counts as quarantined
//! then. Nothing is counted twice when the repaired record comes, since its rows carry the same keys and the newest version
//! of a record wins.

mod cells;
mod coded;
mod costs;
mod digest;
mod engine;
mod engine_fields;
mod fields;
mod identity;
mod money;
mod quantities;
mod reading;
mod record;
mod row;
mod supply;
mod vehicle;
mod word_map;
mod words;

pub use digest::of_texts as digest_of_texts;
pub use record::{Fate, Settings, Translator};
pub use row::{Failure, Row, Value};
pub use vehicle::{Naming, PSEUDONYM};
