//! Probabilities and minutes laid out as the numbers that are solved, with the trade's words kept beside them.

mod clock;
mod layout;
mod seen;

use std::collections::{BTreeMap, BTreeSet};

use super::learning::{Engine, Known, Prior, Results};
use crate::answer::statistic::told;
use crate::domain::catalog::{Repair, Test};
use crate::domain::family::EngineFamily;
use crate::domain::problem::Result;
use crate::stats::test_order::{self as order, Course};

use clock::Clock;
pub use clock::MinutesFrom;

/// The low dry compression reading that the wet step follows.
const DRY: &str = "cranking_compression";
/// The wet step.
pub(super) const WET: &str = "wet_compression";
/// The test that tells where it leaks.
const LEAKAGE: &str = "cylinder_leakage";

/// A result that is known already.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// Test id.
    pub test: String,
    /// Abnormal or normal.
    pub abnormal: bool,
    /// Where it leaks, for an abnormal leakage test.
    pub path: Option<String>,
}

/// The engine in the bay, and what can be done to it.
#[derive(Debug, Clone, Default)]
pub struct Bay<'a> {
    /// Engine family.
    pub family: Option<&'a EngineFamily>,
    /// Mileage band.
    pub band: Option<usize>,
    /// Cylinder at fault.
    pub cylinder: Option<u8>,
    /// How hard it is to reach, 0 to 1; learnt from the minutes recorded where it is not given.
    pub access: Option<f64>,
    /// Minutes of tests and of set-ups that replace all others.
    pub minutes: BTreeMap<String, f64>,
    /// Tests that cannot be done here.
    pub without: BTreeSet<String>,
    /// Causes that are ruled out.
    pub cleared: BTreeSet<String>,
    /// Results known already.
    pub seen: Vec<Seen>,
}

/// A test of the model.
#[derive(Debug, Clone)]
pub struct ModelTest<'a> {
    /// The catalog's entry.
    pub test: &'a Test,
    /// Minutes with every set-up.
    pub minutes: f64,
    /// Where they come from.
    pub from: MinutesFrom,
    /// How many measured times.
    pub timed: u64,
    /// Leak paths by outcome; empty for a test with two outcomes.
    pub paths: Vec<&'a str>,
}

/// The repair of a cause of the model.
#[derive(Debug, Clone)]
pub struct ModelRepair<'a> {
    /// The catalog's entry.
    pub repair: Option<&'a Repair>,
    /// Minutes lost when it was the wrong one.
    pub minutes: f64,
    /// Needs proof.
    pub head_off: bool,
}

/// One cell of evidence: a test under a cause.
#[derive(Debug, Clone)]
pub struct Cell {
    /// Cause, by number.
    pub cause: usize,
    /// Test, by number.
    pub test: usize,
    /// Starting chance in percent, and its weight in cases.
    pub starting: (f64, f64),
    /// What was counted.
    pub results: Results,
    /// The probability used.
    pub probability: f64,
}

/// Everything about one engine in the bay.
#[derive(Debug)]
pub struct Model<'a> {
    /// What is solved.
    pub problem: order::Problem,
    /// Causes with their probabilities.
    pub priors: Vec<Prior>,
    /// Tests by number.
    pub tests: Vec<ModelTest<'a>>,
    /// Set-up ids by number, with minutes.
    pub set_ups: Vec<(&'a str, f64)>,
    /// Repairs by cause.
    pub repairs: Vec<ModelRepair<'a>>,
    /// Evidence for every chance.
    pub cells: Vec<Cell>,
    /// Access used, 0 to 1, and how many measured times it was learnt from.
    pub access: (f64, u64),
    /// Where the vehicle stands: what was seen is counted in.
    pub course: Course,
}

impl<'a> Model<'a> {
    /// Builds the model of an engine of the family that `known` was learnt for.
    ///
    /// # Errors
    /// A result of a test that says nothing here, a wet step without a low dry reading, everything ruled out.
    pub fn new(known: &'a Known<'a>, bay: &Bay<'_>) -> Result<Self> {
        let catalog = known.learnt.catalog;
        let priors = known.learnt.causes.of(Engine {
            family: bay.family.map(|f| f.id.as_str()),
            band: bay.band,
        });
        let clock = Clock::new(catalog, known.learnt.tally, bay);
        let access = clock.access;
        let chosen = layout::chosen(catalog, bay);
        let set_ups = layout::set_ups(catalog, bay, access.0);
        let mut cells = Vec::new();
        let mut tests = Vec::new();
        let mut laid = Vec::new();
        for (number, test) in chosen.iter().enumerate() {
            let (minutes, from, timed) = clock.minutes(test);
            let own = |id: &String| set_ups.iter().position(|(s, _)| s == id);
            let needs: Vec<usize> = test.set_ups.iter().filter_map(own).collect();
            let prepared: f64 = needs
                .iter()
                .filter_map(|s| set_ups.get(*s))
                .map(|s| s.1)
                .sum();
            let evidence = layout::evidence(known, number, test);
            let paths = layout::paths(catalog, test);
            laid.push(order::Test {
                // Recorded minutes hold the set-ups; what is left is never less than one minute.
                minutes: (minutes - prepared).max(1.0),
                set_ups: needs,
                outcomes: layout::outcomes(known, test, &evidence, &paths),
                after: (test.id == WET)
                    .then(|| chosen.iter().position(|t| t.id == DRY))
                    .flatten()
                    .map(|dry| (dry, 1)),
            });
            cells.extend(evidence);
            tests.push(ModelTest {
                test,
                minutes: minutes.max(prepared + 1.0),
                from,
                timed,
                paths,
            });
        }
        let repairs = layout::repairs(catalog, access.0);
        let shares = known.learnt.chances.classes.shares();
        let problem = told(order::Problem::new(
            &layout::classes(shares, &priors, bay),
            priors.len(),
            &laid,
            &set_ups.iter().map(|s| s.1).collect::<Vec<f64>>(),
            layout::stopping(&repairs, catalog, access.0),
        ))?;
        let course = seen::course(&problem, &tests, bay)?;
        Ok(Self {
            problem,
            priors,
            tests,
            set_ups,
            repairs,
            cells,
            access,
            course,
        })
    }

    /// Number of a test.
    pub fn test(&self, id: &str) -> Option<usize> {
        self.tests.iter().position(|t| t.test.id == id)
    }

    /// Number of an outcome.
    pub fn outcome(&self, test: usize, abnormal: bool, path: Option<&str>) -> Option<usize> {
        outcome(&self.tests[test], abnormal, path)
    }
}

fn outcome(test: &ModelTest<'_>, abnormal: bool, path: Option<&str>) -> Option<usize> {
    match (abnormal, test.paths.is_empty()) {
        (false, _) => Some(0),
        (true, true) => Some(1),
        (true, false) => Some(1 + test.paths.iter().position(|p| Some(*p) == path)?),
    }
}
