//! Readings of tests on cylinders (gauges, meters, scopes; odometers are another matter), each judged by its case.
//!
//! A reading says what a healthy cylinder reads only if somebody showed that the cylinder was healthy. The rule is in [`judge`].

pub mod counts;
pub mod fetch;
pub mod judge;

pub use counts::best_filled;
pub use fetch::{Asked, fetch};
pub use judge::{Accusations, Judgement, Rule};

use crate::domain::day::Day;
use crate::domain::unit::Unit;

/// One cylinder's reading in one test of one case, the first of the case: as it was found.
#[derive(Debug, Clone, PartialEq)]
pub struct TestReading {
    /// Engine family.
    pub family: String,
    /// Test.
    pub test: String,
    /// Vehicle. An engine replaced in between counts with it, which errs on the side of fewer engines.
    pub vehicle: String,
    /// Site; `None` where it is unknown.
    pub site: Option<String>,
    /// Day the case was opened.
    pub opened: Day,
    /// Source and number of the case.
    pub case: (String, String),
    /// Cylinder; `None` where it is unknown.
    pub cylinder: Option<i64>,
    /// Canonical unit.
    pub unit: Unit,
    /// Reading in that unit.
    pub value: f64,
    /// Where air escaped, of a leakage test.
    pub leak_path: Option<String>,
}

/// The readings of the tests asked for and what is known of their vehicles' cylinders.
#[derive(Debug, Clone, PartialEq)]
pub struct Tested {
    /// Readings by family, test, vehicle, day and case.
    pub readings: Vec<TestReading>,
    /// Accusations of the vehicles that have readings.
    pub accusations: Accusations,
}
