//! History and tallies against a slow, obvious twin, on invented fleets full of trouble.

mod fleet;
mod life_as_twin;
mod rows;
mod same_as_twin;
mod twin;
mod twin_tally;
