//! Which cylinder fails most, and is the difference real? All cylinders of an engine share its distance, so cases alone
//! can answer this one.

pub mod compute;
pub mod sheet;
pub mod types;
pub mod verdict;

pub use compute::answer;
pub use types::Cylinders;
