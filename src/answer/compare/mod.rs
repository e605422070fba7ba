//! The readings just taken, cylinder by cylinder: against each other, against healthy cylinders on record, against common practice.

pub mod compute;
pub mod next_step;
pub mod practice;
pub mod records;
pub mod sheet;
pub mod types;
pub mod verdict;

pub use compute::answer;
pub use types::Comparison;
