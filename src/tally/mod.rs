//! Tallies: history grouped into the few numbers that statistics need, counts of failures and exact metres of exposure.
//!
//! All that is large happens in SQL; what comes back is one row a group. Every sum is of whole numbers, so a tally is
//! the same to the last digit whatever the order of rows, files, threads or engine.

pub mod budget;
pub mod cell;
pub mod cylinders;
pub mod dimension;
pub mod exposure;
mod filling;
pub mod filter;
pub mod key;
pub mod life;
mod portion;
pub mod rates;
pub mod repeats;
pub mod shares;
pub mod sites;
pub mod test_order;
pub mod test_readings;

pub use dimension::Dimension;
pub use filter::{Exposure, Filter};
pub use key::KeyPart;
