//! What an invented vehicle leaves behind, in canonical units: the truth side by side with what the shops wrote down.

use crate::domain::day::Day;
use crate::domain::outcome::Outcome;

/// Who the vehicle belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Owner {
    /// A customer of the chain of garages.
    Customer,
    /// The delivery fleet.
    Fleet,
}

/// Why a vehicle was seen without trouble.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum VisitKind {
    /// A service.
    Service,
    /// The customer stated the odometer at the year's end.
    Statement,
    /// The fleet's monthly reading.
    Poll,
    /// The engine was replaced; the engine's distance begins again.
    EngineReplaced,
}

/// The vehicle was seen without trouble.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// Day.
    pub day: Day,
    /// Odometer in metres.
    pub odometer_m: i64,
    /// Index of the site in the scenario.
    pub site: usize,
    /// Why.
    pub kind: VisitKind,
}

/// What really failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Failure {
    /// Index of the cause in the scenario.
    pub cause: usize,
    /// Cylinder; 0 for the whole engine.
    pub cylinder: u8,
    /// Distance of the engine at the failure, metres.
    pub engine_m: i64,
}

/// A confirmed or assumed cause.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Index of the cause in the scenario.
    pub cause: usize,
    /// Failure-mode word.
    pub mode: String,
    /// Cylinder; 0 for the whole engine.
    pub cylinder: u8,
    /// 0 parts fitted, 1 fix verified, 2 seen, 3 measured after tear-down.
    pub confirmation: u8,
    /// Repair id of the catalog.
    pub repair: String,
    /// Labour hours; nothing when nothing was done.
    pub labour_hours: Option<f64>,
    /// Net cost in minor units of EUR at the prices of the year; nothing when declined.
    pub cost_minor: Option<i64>,
    /// Year of the prices.
    pub price_year: i32,
    /// customer, warranty or internal.
    pub payer: &'static str,
}

/// Result of a test, by the catalog's words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TestResult {
    /// As it should be.
    Normal,
    /// Not as it should be.
    Abnormal,
    /// Could not be judged.
    Inconclusive,
}

impl TestResult {
    /// Id of the catalog.
    pub fn id(self) -> &'static str {
        match self {
            TestResult::Normal => "normal",
            TestResult::Abnormal => "abnormal",
            TestResult::Inconclusive => "inconclusive",
        }
    }
}

/// One cylinder's share of a test step.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Cylinder; 0 for the whole engine.
    pub cylinder: u8,
    /// Reading in the canonical unit of the test.
    pub value: Option<f64>,
    /// Result.
    pub result: TestResult,
    /// Leak path id, where the test hears one.
    pub leak_path: Option<String>,
}

/// One test done in a case.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Order from 1.
    pub step: u32,
    /// Index of the test in the shop knowledge.
    pub test: usize,
    /// Bench minutes of the whole step, where somebody noted them.
    pub minutes: Option<f64>,
    /// Readings, one a cylinder or one for the engine.
    pub readings: Vec<Reading>,
}

/// A reading in its case.
#[derive(Debug, Clone, Copy)]
pub struct CaseReading<'a> {
    /// Number within the case, from 1.
    pub number: u32,
    /// Its step.
    pub step: &'a Step,
    /// The reading.
    pub reading: &'a Reading,
    /// The first of its step.
    pub first: bool,
}

impl Case {
    /// Readings of all steps in order.
    pub fn readings(&self) -> impl Iterator<Item = CaseReading<'_>> {
        let all = self.steps.iter().flat_map(|step| {
            step.readings
                .iter()
                .enumerate()
                .map(move |(i, reading)| (step, reading, i == 0))
        });
        all.zip(1..)
            .map(|((step, reading, first), number)| CaseReading {
                number,
                step,
                reading,
                first,
            })
    }
}

/// One diagnostic case.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// Number within the vehicle, from 1.
    pub number: u32,
    /// Index of the site in the scenario.
    pub site: usize,
    /// Day it was opened.
    pub opened: Day,
    /// Day it was closed.
    pub closed: Day,
    /// Odometer in metres.
    pub odometer_m: i64,
    /// Trouble codes.
    pub codes: Vec<String>,
    /// Cylinder the complaint names.
    pub complaint_cylinder: Option<u8>,
    /// Cylinder that was tested.
    pub suspect: u8,
    /// How it ended.
    pub outcome: Outcome,
    /// Findings.
    pub findings: Vec<Finding>,
    /// Tests in the order they were done.
    pub steps: Vec<Step>,
    /// What really failed; nothing for a complaint without a fault.
    pub failure: Option<Failure>,
    /// The vehicle had never been seen before.
    pub walk_in: bool,
    /// The case is a comeback of the case with that number.
    pub comeback_of: Option<u32>,
}

/// Everything one vehicle leaves behind, each list in order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct VehicleLife {
    /// Number in the fleet, from 0.
    pub index: u64,
    /// Whose it is.
    pub owner: Owner,
    /// Index of its home site.
    pub home: usize,
    /// Index of its family.
    pub family: usize,
    /// Index of its engine text in the family's list.
    pub engine_text: usize,
    /// Model year.
    pub model_year: i16,
    /// Distance a day in metres.
    pub metres_per_day: f64,
    /// Sightings without trouble.
    pub visits: Vec<Visit>,
    /// Cases.
    pub cases: Vec<Case>,
    /// True stretches under observation on the engine's clock, metres from..to.
    pub observed: Vec<(i64, i64)>,
}
