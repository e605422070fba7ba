//! Invented fleets with a known truth: what really failed beside what the shops wrote down.
//!
//! [`simulate`] gives lives in canonical units for tests; [`generate()`] writes them as five systems would export them.

pub mod calendar;
pub mod casework;
pub mod draw;
pub mod export;
pub mod families_file;
pub mod fleet;
pub mod generate;
pub mod hazard;
pub mod identity;
pub mod knowledge;
pub mod life;
pub mod mess;
pub mod model;
pub mod reading;
pub mod readme;
pub mod record;
pub mod scenario;
mod scenario_check;
pub mod schedule;
pub mod start;
pub mod truth;

pub use fleet::simulate;
pub use generate::generate;
