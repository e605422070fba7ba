//! Exports in, checked rows out.

pub mod account;
pub mod cell;
pub mod guess;
pub mod mapping;
pub mod read;
pub mod roster;
pub mod rule;
pub mod run;
pub mod translate;
