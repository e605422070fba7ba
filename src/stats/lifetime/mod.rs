//! Lifetime distributions over distance: one maximum-likelihood fit for all families, with late entry and censoring.
//!
//! Log-likelihoods count the density of t, so that fits of different families to the same lives can be compared.

pub mod blocks;
mod chebyshev;
mod constraint;
pub mod exponential;
pub mod family;
pub mod fit;
pub mod fixed_shape;
pub mod goodness_of_fit;
pub mod jet;
pub mod likelihood;
pub mod likelihood_interval;
pub mod loglogistic;
pub mod lognormal;
mod maximum;
pub mod observed;
pub mod piecewise_exponential;
pub mod prediction;
pub mod probability_plot;
mod profile;
pub mod shared_shape;
pub mod threshold;
pub mod unfitted;
pub mod weibull;

pub use blocks::Blocks;
pub use exponential::{Exponential, exponential};
pub use family::Family;
pub use fit::{Estimate, Fit, fit};
pub use fixed_shape::{FixedShape, fixed_shape};
pub use goodness_of_fit::{GoodnessOfFit, Places, equal_expectation_edges, goodness_of_fit};
pub use likelihood::Parameters;
pub use likelihood_interval::LikelihoodInterval;
pub use observed::{Inspection, Observed};
pub use piecewise_exponential::{BandHazard, PiecewiseExponential, piecewise_exponential};
pub use prediction::{Chance, Prediction, prediction};
pub use probability_plot::{PlotPoint, probability_plot};
pub use shared_shape::{EqualShapes, SharedShape, shared_shape};
pub use threshold::{ThresholdFit, fit_with_threshold};
pub use unfitted::Unfitted;
