//! Causes that compete to end a life: how many fail by each, when the others may come first.

pub mod aalen_johansen;
pub mod competing_table;
mod gray_score;
pub mod gray_test;
pub mod infinitesimal_jackknife;
pub mod variance;

pub use aalen_johansen::{Incidence, IncidenceStep};
pub use competing_table::{CompetingLife, CompetingRow, CompetingTable};
pub use gray_test::{CauseSample, GrayTest, gray_test};
pub use infinitesimal_jackknife::infinitesimal_jackknife;
pub use variance::VarianceFormula;
