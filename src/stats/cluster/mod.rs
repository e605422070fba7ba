//! Rates and shares when events come in clusters (sites, vehicles, litters) whose members are alike.
//!
//! Everything here treats a rate or share as a ratio of two sums over clusters and takes its variance from how the clusters
//! differ (Cochran 1977, Sampling Techniques, section 6.3). **Convention:** variances carry the factor `m / (m - 1)`, `m` the
//! number of clusters, and intervals use Student's t with `m - 1` degrees of freedom, on the log scale for rates and on the
//! logit scale for shares, unless a name says otherwise.

pub mod proportion;
pub mod rao_scott;
pub mod rate;
pub mod share;
pub mod widened;

pub use proportion::{ProportionEstimate, proportion_ratio_estimator};
pub use rao_scott::{RaoScott, rao_scott};
pub use rate::{RateEstimate, rate_ratio_estimator};
pub use share::cluster_share_interval;
pub use widened::{WidenedRate, widened_rate_interval};
