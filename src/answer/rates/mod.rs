//! How often does it fail: events per distance under observation, with intervals that admit how little is known.

pub mod compare;
pub mod compute;
pub mod sheet;
pub mod shrink;
pub mod types;

pub use compute::answer;
pub use types::Rates;
