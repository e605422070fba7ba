//! From rows to what happened: one span of observation for each engine of a vehicle, one episode for each failure.
//!
//! A rate is honest only if distance counts from the first time a vehicle was seen to the last, comebacks are folded
//! into the failure they belong to, and a failure counts only when the vehicle was already being watched. The rules are
//! SQL in `queries/`; this floor names the statements, binds their parameters, and keeps the results in the store's
//! `history/` folder, which is derived, keyed by its inputs, and may be deleted at any time.

pub mod account;
pub mod building;
pub mod cache;
pub mod episode_tables;
pub mod layer;
pub mod opening;
pub mod options;
pub mod rows;
pub mod slice;
pub mod span_tables;
pub mod table;

pub use account::{EpisodeAccount, HistoryAccount, SpanAccount, StepAccount, VersionCount};
pub use opening::{History, Inputs, open, open_over, open_sliced, open_steps};
pub use options::HistoryOptions;
