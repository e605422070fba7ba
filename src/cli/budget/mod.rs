//! `budget`: a roster and the records in, a budget out; or past budgets held against what happened.

pub mod command;
pub mod gather;
pub mod past;
pub mod place;
pub mod plan;

pub use command::BudgetArgs;
pub use gather::{RosterPlace, for_report};
