//! Special functions and distributions, right to about 1e-13 for counts up to 1e9 and bounded in time.
//!
//! Owned rather than taken from a library because the limits of this crate are quantiles at counts of many millions, where
//! general libraries lose digits (cancelling log-gammas) or do not return. Three ideas carry everything:
//! densities go through deviances that are computed without cancellation ([`deviance`]), tails go through a continued
//! fraction while the shapes are small and an expansion about the saddle point when they are large ([`saddle`]), and
//! quantiles are found on the logarithm of the smaller tail, which is concave, inside a bracket ([`inversion`]).
//!
//! Outside their domain these functions return NaN, like those of the standard library; the callers check and explain.

pub mod beta;
pub mod binomial;
pub mod chi_square;
pub mod deviance;
pub mod gamma;
pub mod inversion;
pub mod noncentral_chi_square;
pub mod normal;
pub mod poisson;
pub mod root;
pub mod saddle;
pub mod stirling;
pub mod student_t;

pub use beta::{UnitPoint, beta_i, beta_i_inverse, beta_q, beta_q_inverse};
pub use binomial::{binomial_cdf, binomial_pmf, binomial_pmf_at, binomial_sf};
pub use chi_square::{chi2_cdf, chi2_isf, chi2_quantile, chi2_sf};
pub use gamma::{gamma_p, gamma_p_inverse, gamma_q, gamma_q_inverse};
pub use noncentral_chi_square::{noncentral_chi2_cdf, noncentral_chi2_sf};
pub use normal::{norm_cdf, norm_isf, norm_pdf, norm_quantile, norm_sf};
pub use poisson::{poisson_cdf, poisson_pmf, poisson_sf};
pub use stirling::{ln_beta, ln_choose, ln_factorial, ln_gamma};
pub use student_t::{student_t_cdf, student_t_quantile, student_t_sf};
