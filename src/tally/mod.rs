//! Sufficient statistics out of history: counts and exposure, by SQL.
