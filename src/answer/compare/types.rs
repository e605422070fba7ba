//! The answer `compare` gives: its struct is the JSON contract `boretally.compare/1`.

use serde::Serialize;

use crate::answer::parts::{Caveat, Estimate};

/// Readings of one engine in one session, compared.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Engine family id, where it was named.
    pub family: Option<String>,
    /// Engine family in words.
    pub family_title: Option<String>,
    /// Test id.
    pub test: String,
    /// Test in words.
    pub test_title: String,
    /// Unit in which the readings are shown.
    pub unit: String,
    /// `ratio` or `difference`: how a cylinder is set against the others.
    pub contrast: &'static str,
    /// Confidence level of the intervals.
    pub level: f64,
    /// Plain words.
    pub verdict: Vec<String>,
    /// Whether even the highest cylinder reads lower than sound engines do.
    pub all_low: bool,
    /// What to do next, in plain words.
    pub next_steps: Vec<NextStep>,
    /// One row a cylinder.
    pub cylinders: Vec<CylinderReading>,
    /// What common practice says of the set; absent where it has no rule for this test.
    pub practice: Option<PracticeResult>,
    /// What the records hold; absent without records.
    pub records: Option<RecordsUsed>,
    /// What to know before using it, and the cautions of the tests named.
    pub caveats: Vec<Caveat>,
}

/// How a cylinder reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Finding {
    /// Neither practice nor the records say anything of it.
    Unjudged,
    /// As healthy cylinders read.
    InLine,
    /// Outside of what most healthy cylinders read, and no more than that.
    Unusual,
    /// As faults read, or beyond what common practice allows.
    Abnormal,
}

impl Finding {
    /// In words.
    pub fn title(self) -> &'static str {
        match self {
            Self::Unjudged => "cannot be judged",
            Self::InLine => "in line",
            Self::Unusual => "unusual",
            Self::Abnormal => "abnormal",
        }
    }
}

/// One cylinder.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CylinderReading {
    /// Cylinder number.
    pub cylinder: u8,
    /// Reading.
    pub reading: f64,
    /// As it was typed.
    pub typed: String,
    /// Where air escaped, of a leakage test.
    pub leak_path: Option<String>,
    /// Share of the highest reading, of tests in which a fault reads low; absent where the highest is 0.
    pub of_highest: Option<f64>,
    /// Against the median of the other cylinders; absent without others.
    pub against_others: Option<f64>,
    /// Share of healthy cylinders on record that read as this one or lower.
    pub place: Option<Estimate>,
    /// Share of healthy cylinders on record that stood as this one or lower against the others of their engine.
    pub place_against_others: Option<Estimate>,
    /// How much more often a cylinder stands like this when it is faulty than when it is healthy.
    pub likelihood_ratio: Option<Estimate>,
    /// How it reads.
    pub finding: Finding,
    /// Why, in words.
    pub because: Vec<String>,
}

/// The common-practice rule and what it makes of the set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PracticeResult {
    /// The rule in words.
    pub rule: &'static str,
    /// Where it comes from.
    pub mark: &'static str,
    /// Whether the whole set keeps it.
    pub kept: bool,
    /// Cylinders that break it.
    pub cylinders: Vec<u8>,
}

/// What the comparison with records rests on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RecordsUsed {
    /// Engines with a healthy cylinder read.
    pub engines: u64,
    /// Healthy cylinders read.
    pub healthy: u64,
    /// Confirmed faults read.
    pub faulty: u64,
    /// `order-statistic`, `robust` or `comparison-only`.
    pub method: &'static str,
    /// Central 95 % of healthy cylinders against the others of their engine, lower end.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Central 95 % of healthy readings, lower end.
    pub reading_lower: Option<f64>,
    /// Upper end.
    pub reading_upper: Option<f64>,
    /// Cut-off that best separates confirmed faults, against the others.
    pub cut_off: Option<f64>,
    /// What the records are, and what they are not.
    pub label: &'static str,
}

/// A next step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NextStep {
    /// Test id, where the step is a test of the catalog.
    pub test: Option<&'static str>,
    /// In words.
    pub text: String,
}
