//! Laws that hold for any input, tried with random ones.

mod readers;
