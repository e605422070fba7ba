//! How many repairs of a kind will a fleet need, what will they cost, how much reserve is safe?

pub mod assumptions;
pub mod caveats;
pub mod check;
pub mod compute;
pub mod drivers;
pub mod fleet;
pub mod forecast;
pub mod jobs;
pub mod known;
pub mod model;
pub mod options;
pub mod outlook;
pub mod sheet;
pub mod types;
pub mod unit_list;
pub mod verdict;

pub use check::BudgetCheck;
pub use compute::{Input, answer};
pub use types::Budget;
