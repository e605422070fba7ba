//! The tally behind `life`: how many engines came under observation, left it and failed first, by distance.
//!
//! Survival estimates need no list of vehicles: these counts by whole metre are all that a risk set or a likelihood is made of.
//! So a family of any size reaches the statistics as one row a distance, and every cause asks for a small correction to the
//! same rows: an engine leaves the risk set at its first failure of that cause.

pub mod ask;
pub mod clock;
pub mod group;
pub mod read;
mod rows;

pub use ask::LifeAsk;
pub use clock::Clock;
pub use group::{FailedAt, FirstFailures, LifeGroup, LifeRow, Watched};
pub use read::{Counts, RiskSets, for_each, in_rounds};
