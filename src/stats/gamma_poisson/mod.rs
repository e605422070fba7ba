//! Rates of many cells that differ from each other by a gamma distribution: shrunk rates, and whether cells differ at all.
//!
//! The raw rate of a cell with two events tells little, and a ranking by raw rates puts the cells with the least evidence at
//! both ends. If the true rates are spread over the cells as a gamma distribution with shape `a` and rate `b` (mean `a / b`),
//! a count `y` on exposure `t` has a negative binomial distribution, `a` and `b` follow by maximum likelihood from all cells,
//! and the rate of a cell given its own count is gamma with shape `a + y` and rate `b + t`: its mean lies between the cell's
//! own rate and that of all (Robbins 1956; Gaver & O'Muircheartaigh 1987, Technometrics 29:1; Clayton & Kaldor 1987,
//! Biometrics 43:671).

mod fit;
mod likelihood;

pub use fit::{Fit, ShrunkRate, fit};
