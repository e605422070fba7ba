//! The tally behind `repeats`: failures followed along the vehicles that have them, and what those vehicles were watched for.
//!
//! A mean cumulative function needs the number at risk at every event, and its robust variance one sum a vehicle. A vehicle
//! without a failure, watched in one unbroken window, enters both only through the events that happened while it was watched, so
//! SQL counts such vehicles by the first and last of those events (`repeat_quiet`) and nothing is lost. What remains one by one
//! are the vehicles with a failure or with several windows: as many rows as there are failures, not vehicles.

pub mod comebacks;
mod costs;
mod counting;
mod events;
pub mod second_failures;
pub mod watched;

pub use comebacks::ComebackCount;
pub use costs::CostAccount;
pub use counting::{Asked, RepeatEvent, RepeatGroup, RepeatTally, tally};
pub use second_failures::{HeadRepairs, SecondFailures, Stratum};
pub use watched::{QuietWindow, WatchedSet, Window};
