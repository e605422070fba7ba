//! Invented fleets with a known truth: what really failed beside what the shops wrote down.

pub mod calendar;
pub mod casework;
pub mod draw;
pub mod fleet;
pub mod hazard;
pub mod knowledge;
pub mod life;
pub mod model;
pub mod reading;
pub mod record;
pub mod scenario;

pub use fleet::simulate;
