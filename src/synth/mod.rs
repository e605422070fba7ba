//! Invented fleets of any size with a known truth.
