//! `budget`: a roster and the records in, a budget out; or past budgets held against what happened.

pub mod command;
pub mod gather;
pub mod past;
pub mod place;
pub mod plan;
mod roster;

pub use command::BudgetArgs;
pub use gather::for_report;
pub use roster::{RosterArgs, RosterPlace};
