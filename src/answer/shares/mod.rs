//! Of the failures that came in, which causes: shares with intervals, never to be read as rates.

pub mod compute;
pub mod sheet;
pub mod types;

pub use compute::answer;
pub use types::Shares;
