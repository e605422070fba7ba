//! Which test first, what next by its outcome, when to stop and what to repair: the plan of least expected minutes.
//!
//! `learning` turns counts and the catalog's starting assumptions into probabilities, `model` lays them out as the numbers
//! that `stats::test_order` solves, `compute` asks for the plan and for what to hold it against, `check` judges plans
//! made from older cases by newer ones.

pub mod check;
pub mod compute;
pub mod learning;
pub mod model;
pub mod narrative;
pub mod sheet;
#[cfg(test)]
mod trade_facts;
pub mod types;

pub use compute::answer;
pub use types::TestOrder;
