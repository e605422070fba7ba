//! The answer `test-order` gives: its struct is the JSON contract `boretally.test-order/1`.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::answer::parts::{Caveat, Evidence};

/// A plan of tests for one engine in the bay.
#[derive(Debug, Clone, Serialize)]
pub struct TestOrder {
    /// Engine family id.
    pub family: Option<String>,
    /// Engine family in words.
    pub family_title: String,
    /// The complaint the cases were filtered by, in words.
    pub complaint: Option<String>,
    /// Cylinder at fault.
    pub cylinder: Option<u8>,
    /// Mileage band in words.
    pub band: Option<String>,
    /// What is known already, in words.
    pub seen: Vec<String>,
    /// How hard the engine is to reach, 0 (easy) to 1 (hard).
    pub access: f64,
    /// Measured times it was learnt from; 0: assumed or given.
    pub access_times: u64,
    /// Plain words.
    pub verdict: Vec<String>,
    /// Confirmed cases behind it.
    pub evidence: Evidence,
    /// Expected minutes of the plan: tests and wrong repairs, the right repair not counted.
    pub minutes: f64,
    /// No plan takes less than this; `None` where it was not worked out.
    pub lower: Option<f64>,
    /// Whether both are the same: the plan is proven best.
    pub exact: bool,
    /// Combinations of outcomes that were compared.
    pub positions: u64,
    /// The first test; `None` where it is best to stop at once.
    pub first: Option<First>,
    /// Other first tests, the closest first.
    pub alternatives: Vec<Alternative>,
    /// Rules of thumb under the same model.
    pub baselines: Vec<Baseline>,
    /// The causes, the most probable first.
    pub causes: Vec<CauseLine>,
    /// The tests with their minutes.
    pub tests: Vec<TestLine>,
    /// What each test shows under each cause, and what that rests on.
    pub chances: Vec<ChanceLine>,
    /// The plan as a numbered list, without what is hardly ever reached.
    pub steps: Vec<PlanLine>,
    /// The whole plan: its points, each once however many ways lead there; the first is the start.
    pub plan: Vec<Node>,
    /// What to mind at the vehicle.
    pub cautions: Vec<Caution>,
    /// What the starting assumptions are.
    pub mark: String,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// The first test, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct First {
    /// Test id.
    pub test: String,
    /// In words.
    pub title: String,
    /// Its minutes, set-ups included.
    pub minutes: f64,
    /// What it tells apart.
    pub separates: String,
    /// What counts as abnormal.
    pub abnormal: String,
    /// What it needs first.
    pub needs: String,
    /// What each result would mean.
    pub results: Vec<Meaning>,
    /// Expected minutes that leaving it out altogether would add.
    pub leaving_out_costs: f64,
}

/// What a result would mean.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Meaning {
    /// The result in words.
    pub result: String,
    /// Its probability.
    pub chance: f64,
    /// The most probable causes after it.
    pub likely: Vec<Likely>,
}

/// A cause with its probability.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Likely {
    /// Cause id.
    pub cause: String,
    /// In words.
    pub title: String,
    /// Its probability.
    pub probability: f64,
}

/// Another first test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alternative {
    /// Test id.
    pub test: String,
    /// In words.
    pub title: String,
    /// Expected minutes of the best plan that begins with it.
    pub minutes: f64,
    /// How many more that is.
    pub more: f64,
}

/// A rule of thumb.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Baseline {
    /// Stable id; `habit` is the order a site's records show.
    pub id: String,
    /// In words.
    pub title: String,
    /// Its expected minutes, stopping at the best moments.
    pub minutes: f64,
    /// How many more than the plan's that is.
    pub more: f64,
}

/// A cause, its probability and its repair.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CauseLine {
    /// Cause id.
    pub cause: String,
    /// In words.
    pub title: String,
    /// Probability now, after what was seen.
    pub probability: f64,
    /// Probability before any test.
    pub before: f64,
    /// Starting share of the catalog.
    pub starting: f64,
    /// Confirmed cases over all engines.
    pub cases_all: u64,
    /// Confirmed cases in this family.
    pub cases_family: u64,
    /// Confirmed cases in this family and mileage band.
    pub cases_band: u64,
    /// Cases that all engines weigh against the family's own.
    pub weight_all: f64,
    /// Cases that the family weighs against its own in this mileage band.
    pub weight_family: f64,
    /// Usual repair in words.
    pub repair: Option<String>,
    /// Minutes lost when it was the wrong one: labour, parts at their price in labour, finding out. A starting assumption.
    pub repair_minutes: f64,
    /// Whether the head comes off, which needs proof.
    pub head_off: bool,
}

/// A test and its minutes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TestLine {
    /// Test id.
    pub test: String,
    /// In words.
    pub title: String,
    /// Minutes with every set-up.
    pub minutes: f64,
    /// `given`, `measured_bank`, `measured_family` or `starting_assumption`.
    pub minutes_from: String,
    /// Measured times behind them.
    pub timed: u64,
    /// Set-ups it needs.
    pub set_ups: Vec<String>,
    /// Confirmed cases with a result of it, over all engines.
    pub cases_all: u64,
    /// The same in this family.
    pub cases_family: u64,
}

/// What a test shows under a cause.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChanceLine {
    /// Cause id.
    pub cause: String,
    /// Test id.
    pub test: String,
    /// Probability that it is abnormal.
    pub probability: f64,
    /// Starting chance.
    pub starting: f64,
    /// Cases that the starting chance weighs, as far as the records bear the catalog out.
    pub weight: f64,
    /// Cases that all engines weigh against a family's own.
    pub weight_all: f64,
    /// Abnormal results over all engines.
    pub abnormal_all: u64,
    /// Results over all engines.
    pub cases_all: u64,
    /// Abnormal results in this family.
    pub abnormal_family: u64,
    /// Results in this family.
    pub cases_family: u64,
    /// Results over all engines whose cause was seen or measured.
    pub sure: u64,
}

/// One line of the numbered plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanLine {
    /// Its number.
    pub number: u64,
    /// The line it follows; `None` for the first.
    pub after: Option<u64>,
    /// The result that leads here.
    pub when: Option<String>,
    /// How often the plan comes here.
    pub reached: f64,
    /// What to do.
    pub instruction: String,
    /// Its minutes, for a test.
    pub minutes: Option<f64>,
    /// Expected minutes from here on.
    pub ahead: f64,
    /// The most probable causes here.
    pub likely: Vec<Likely>,
}

/// One point of the whole plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Node {
    /// `test` or `repair`.
    pub action: &'static str,
    /// Test id.
    pub test: Option<String>,
    /// Minutes of the test here, with the set-ups that do not stand yet.
    pub minutes: Option<f64>,
    /// Expected minutes from here on.
    pub ahead: f64,
    /// Probabilities of the most probable causes here, by id.
    pub odds: BTreeMap<String, f64>,
    /// Causes in the order of their repairs, the first few.
    pub repairs: Vec<String>,
    /// What next, by result.
    pub branches: Vec<NodeBranch>,
}

/// One result, and what next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NodeBranch {
    /// The result: `normal`, `abnormal`, or `abnormal:PATH`.
    pub result: String,
    /// Its probability here.
    pub chance: f64,
    /// The point that follows: its place in the list, from 0.
    pub next: usize,
}

/// A caution of the trade.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// Stable id.
    pub id: &'static str,
    /// A few words.
    pub title: &'static str,
    /// What to do.
    pub text: &'static str,
    /// Where it comes from.
    pub mark: &'static str,
}
