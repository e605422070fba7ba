//! Pure numbers: no input or output, no trade words, no clock, no unseeded generator. One file a family of methods.

pub mod error;
pub mod interval;
pub mod poisson_rate;
pub mod proportion;
pub mod proportion_difference;
pub mod rate_ratio;
pub mod sample_size;
pub mod special;

pub use error::Error;
pub use interval::Interval;
