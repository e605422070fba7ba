//! Exports in, checked rows out.
