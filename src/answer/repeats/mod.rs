//! Repairs that happen again: their mean number and cost by distance, repairs that came back, and failures after a repair.

mod caveats;
mod comebacks;
pub mod compute;
mod costs;
mod curve;
mod second;
pub mod sheet;
pub mod types;
mod verdict;

pub use compute::answer;
pub use types::Repeats;
pub use verdict::verdict;
