//! Pure numbers: no input or output, no trade words, no clock, no unseeded generator. One file a family of methods.

pub mod error;
pub mod interval;
pub mod special;

pub use error::Error;
pub use interval::Interval;
