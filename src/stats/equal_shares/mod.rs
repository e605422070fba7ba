//! Do the cells of a whole have the shares they are supposed to have, equal ones above all?
//!
//! The asymptotic chi-square and G tests, the exact multinomial test and its seeded Monte Carlo twin for tables too large
//! to enumerate, which pairs of cells differ, and how large the departure is, which no p-value tells.

mod bounds;
pub mod chi_square;
mod compensated_sum;
pub mod effect_size;
pub mod exact;
mod line;
pub mod monte_carlo;
mod network;
pub mod ordering;
pub mod pairwise;
mod table;
pub mod test;

pub use chi_square::{GoodnessOfFit, chi_square, g_test};
pub use effect_size::{EffectSize, Magnitude, effect_size};
pub use exact::{Exact, exact};
pub use monte_carlo::{MonteCarlo, monte_carlo};
pub use ordering::Ordering;
pub use pairwise::{Pair, pairwise};
pub use table::equal;
pub use test::{Outcome, Road, Settings, test};
