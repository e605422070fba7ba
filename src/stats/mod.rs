//! Pure numbers: no input or output, no trade words, no clock, no unseeded generator. One file a family of methods.

pub mod beta_binomial;
pub mod bracketed_root;
pub mod cluster;
pub mod competing_risks;
pub mod current_status;
mod dispersion_profile;
pub mod equal_shares;
pub mod error;
pub mod forecast_score;
pub mod gamma_mixture;
pub mod gamma_poisson;
pub mod interval;
pub mod james_stein;
pub mod lifetime;
pub mod multiple;
pub mod overdispersion;
pub mod poisson_rate;
pub mod proportion;
pub mod proportion_difference;
pub mod quadratic_form;
pub mod rate_ratio;
pub mod recurrence;
pub mod rising_factorial;
pub mod sample_size;
pub mod simultaneous;
pub mod special;
pub mod stratified_rate_ratio;
pub mod survival;
pub mod test_order;

pub use error::Error;
pub use interval::Interval;
