//! Exports in, checked rows out.
pub mod read;
