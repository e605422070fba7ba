//! Charts: each builds a [`picture::Picture`] from an answer, which is then written as SVG and as PNG.
//!
//! Every chart carries its question, n, intervals and a verdict, is safe for colour-blind readers and readable in grey.

pub mod axis;
pub mod bands;
pub mod budget_cost;
pub mod budget_count;
pub mod calibration;
pub mod comebacks;
pub mod cylinders;
pub mod distribution;
mod drawing;
pub mod forest;
pub mod hazard;
pub mod heat_map;
pub mod incidence;
pub mod ink;
pub mod lettering;
pub mod mean_cumulative;
pub mod picture;
pub mod plan;
pub mod probability_plot;
pub mod shares;
pub mod survival;
