//! A run of ingest: find the exports and their mappings, take each file in as one batch, give the account.

pub mod batch;
mod files;
mod filling;
pub mod find;
mod judged;
pub mod known;
mod lanes;
mod older;
mod pipeline;
mod portion;
pub mod quarantine;
pub mod repair;
pub mod sink;
mod turn;

pub use batch::Ingest;
pub use files::is_for;
pub use find::{Found, Job, Places};
pub use known::HELD;
pub use lanes::Watch;
