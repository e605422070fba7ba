//! The tallies behind `budget`: what became of engines after a first failure, what the jobs took, what is known of the units of a
//! roster, and what a past fleet went on to do.
//!
//! First failures and the distance at risk come from [`super::life`]; these statements add what only a budget asks.

pub mod ask;
pub mod driven;
pub mod jobs;
pub mod lives;
pub mod repeats;
pub mod units;

pub use ask::BudgetAsk;
pub use driven::Driven;
pub use jobs::Line;
pub use lives::FamilyLives;
pub use repeats::Stretch;
pub use units::Known;
