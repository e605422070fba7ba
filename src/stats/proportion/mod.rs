//! Confidence intervals for a binomial proportion, x successes in n trials: one file a method, all in [`METHODS`].
//!
//! n = 0 and x > n are errors: a proportion of nothing has no estimate. x = 0 has lower limit exactly 0 and x = n upper
//! limit exactly 1 in every method that respects the range; Wald and Agresti-Coull may leave [0, 1], which is shown, not hidden.
//! Counts up to 2^53 are taken; limits are right to 1e-12 relative up to 1e9 trials (measured: 1e-14).

pub mod agresti_coull;
pub mod clopper_pearson;
pub mod jeffreys;
pub mod likelihood_ratio;
pub mod methods;
pub mod mid_p;
pub mod sample;
pub mod wald;
pub mod wilson;

pub use agresti_coull::agresti_coull;
pub use clopper_pearson::clopper_pearson;
pub use jeffreys::{jeffreys, jeffreys_modified};
pub use likelihood_ratio::likelihood_ratio;
pub use methods::{METHODS, Method};
pub use mid_p::mid_p;
pub use sample::Sample;
pub use wald::wald;
pub use wilson::{wilson, wilson_cc};
