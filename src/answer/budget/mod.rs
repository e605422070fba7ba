//! How many repairs of a kind will a fleet need, what will they cost, how much reserve is safe?

pub mod assumptions;
pub mod caveats;
pub mod check;
mod check_sheet;
mod columns;
pub mod compute;
pub mod drivers;
pub mod fleet;
mod fleet_grids;
pub mod forecast;
pub mod jobs;
pub mod known;
pub mod model;
mod months;
pub mod options;
pub mod outlook;
mod reason_grids;
pub mod sheet;
pub mod types;
pub mod unit_list;
pub mod verdict;

pub use check::BudgetCheck;
pub use compute::{Input, answer};
pub use types::Budget;
