//! Tables, charts and pages: draws and prints, computes no statistic.

pub mod render;
