//! Tables, charts and pages: draws and prints, computes no statistic.

pub mod chart;
pub mod page;
pub mod render;
pub mod site;
