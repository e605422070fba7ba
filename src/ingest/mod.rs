//! Exports in, checked rows out.

pub mod cell;
pub mod read;
pub mod rule;
