//! `test-order`: which test first, what next, when to stop and what to repair.

mod command;
mod judging;
mod plans;
mod typed;

pub use command::TestOrderArgs;
pub use judging::Judging;
pub use plans::{by_family, learn};
