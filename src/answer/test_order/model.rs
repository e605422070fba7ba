//! Probabilities and minutes laid out as the numbers that are solved, with the trade's words kept beside them.

use std::collections::{BTreeMap, BTreeSet};

use super::learning::{self, Engine, Experience, Prior, Results};
use crate::answer::statistic::told;
use crate::domain::catalog::{Catalog, HeadOff, Invasive, Repair, Test};
use crate::domain::family::EngineFamily;
use crate::domain::problem::{Problem, Result};
use crate::stats::test_order::{self as order, Course, Position};
use crate::tally::test_order::TestOrderTally;

/// The low dry compression reading that the wet step follows.
const DRY: &str = "cranking_compression";
const WET: &str = "wet_compression";
/// The test that tells where it leaks.
const LEAKAGE: &str = "cylinder_leakage";

/// Fewest measured times that replace a starting assumption.
const ENOUGH_TIMES: u64 = 5;

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

/// Where a number of minutes comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MinutesFrom {
    /// Typed by the user.
    Given,
    /// Mean of measured minutes of this family's bank.
    Bank,
    /// Mean of measured minutes of this family.
    Family,
    /// The catalog.
    Assumed,
}

impl MinutesFrom {
    /// Stable id.
    pub fn id(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Bank => "measured_bank",
            Self::Family => "measured_family",
            Self::Assumed => "starting_assumption",
        }
    }
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
    /// Builds the model of an engine.
    ///
    /// # Errors
    /// A result of a test that says nothing here, a wet step without a low dry reading, everything ruled out.
    pub fn new(catalog: &'a Catalog, tally: &TestOrderTally, bay: &Bay<'_>) -> Result<Self> {
        let engine = Engine {
            family: bay.family.map(|f| f.id.as_str()),
            band: bay.band,
        };
        let priors = learning::priors(catalog, tally, engine);
        let experience = Experience::new(tally, engine);
        let clock = Clock::new(catalog, tally, bay);
        let chosen = chosen(catalog, bay);
        let set_ups = set_ups(catalog, bay, clock.access.0);
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
            let evidence = evidence(catalog, &experience, number, test);
            let paths = paths(catalog, test);
            laid.push(order::Test {
                // Recorded minutes hold the set-ups; what is left is never less than one minute.
                minutes: (minutes - prepared).max(1.0),
                set_ups: needs,
                outcomes: outcomes(catalog, &experience, test, &evidence, &paths),
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
        let repairs = repairs(catalog, clock.access.0);
        let problem = told(order::Problem::new(
            &classes(catalog, &priors, bay),
            priors.len(),
            &laid,
            &set_ups.iter().map(|s| s.1).collect::<Vec<f64>>(),
            stopping(&repairs, catalog, clock.access.0),
        ))?;
        let course = course(&problem, &tests, bay)?;
        Ok(Self {
            problem,
            priors,
            tests,
            set_ups,
            repairs,
            cells,
            access: clock.access,
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

/// The tests of the model: those of the matrix that can be done, the least invasive and shortest first, so that a tie goes
/// to them; the wet step; and follow-up steps whose results are known.
fn chosen<'a>(catalog: &'a Catalog, bay: &Bay<'_>) -> Vec<&'a Test> {
    let seen = |t: &Test| bay.seen.iter().any(|s| s.test == t.id);
    let can = |t: &Test| !bay.without.contains(&t.id) || seen(t);
    let mut tests: Vec<&Test> = catalog.matrix_tests().filter(|t| can(t)).collect();
    let rough = |t: &Test| t.invasive.iter().filter(|i| **i != Invasive::None).count();
    tests.sort_by(|a, b| {
        let minutes = a.minutes_easy.total_cmp(&b.minutes_easy);
        rough(a).cmp(&rough(b)).then(minutes).then(a.id.cmp(&b.id))
    });
    if tests.iter().any(|t| t.id == DRY) {
        tests.extend(catalog.test(WET).filter(|t| can(t)));
    }
    let says = |t: &Test| {
        catalog
            .causes()
            .iter()
            .all(|c| catalog.follow_up(&c.id, &t.id).is_some())
    };
    let others = catalog.tests().iter();
    tests.extend(others.filter(|t| t.code.is_none() && t.id != WET && seen(t) && says(t)));
    tests
}

fn set_ups<'a>(catalog: &'a Catalog, bay: &Bay<'_>, access: f64) -> Vec<(&'a str, f64)> {
    let minutes = |s: &crate::domain::catalog::SetUp| {
        let assumed = s.minutes_easy + access * (s.minutes_hard - s.minutes_easy);
        bay.minutes.get(&s.id).copied().unwrap_or(assumed)
    };
    let all = catalog.set_ups().iter();
    all.map(|s| (s.id.as_str(), minutes(s))).collect()
}

fn paths<'a>(catalog: &'a Catalog, test: &Test) -> Vec<&'a str> {
    match test.id.as_str() {
        LEAKAGE => catalog.leak_paths().iter().map(|p| p.id.as_str()).collect(),
        _ => Vec::new(),
    }
}

fn evidence(catalog: &Catalog, experience: &Experience, number: usize, test: &Test) -> Vec<Cell> {
    let causes = catalog.causes().iter().enumerate();
    causes
        .filter_map(|(cause, entry)| {
            let chance = match test.id.as_str() {
                WET => catalog.wet_recovery(&entry.id),
                id => catalog
                    .chance_abnormal(&entry.id, id)
                    .or_else(|| catalog.follow_up(&entry.id, id)),
            }?;
            let results = experience.of(&entry.id, &test.id);
            Some(Cell {
                cause,
                test: number,
                starting: (chance.percent, chance.weight),
                probability: learning::abnormal(chance, &results),
                results,
            })
        })
        .collect()
}

/// Outcomes with their chances by class: two classes a cause, frank and marginal, which differ for tests of a block.
fn outcomes(
    catalog: &Catalog,
    experience: &Experience,
    test: &Test,
    evidence: &[Cell],
    paths: &[&str],
) -> Vec<order::Outcome> {
    let severity = catalog.severity();
    let mut normal = Vec::new();
    let mut abnormal = vec![Vec::new(); paths.len().max(1)];
    for cell in evidence {
        let p = cell.probability;
        let by_severity = match test.block {
            Some(_) => severity.split(p),
            None => [p, p],
        };
        let cause = catalog.causes().get(cell.cause).map_or("", |c| &c.id);
        let shares = match paths.is_empty() {
            true => vec![1.0],
            false => {
                let results = experience.of(cause, &test.id);
                let starting = catalog.leak_path_shares(cause).unwrap_or_default();
                learning::paths(starting, catalog.leak_path_weight(), paths, &results)
            }
        };
        for p in by_severity {
            normal.push(1.0 - p);
            for (row, share) in abnormal.iter_mut().zip(&shares) {
                row.push(p * share);
            }
        }
    }
    let first = order::Outcome {
        chances: normal,
        proof: false,
    };
    let others = abnormal.into_iter().map(|chances| order::Outcome {
        chances,
        proof: test.proof,
    });
    std::iter::once(first).chain(others).collect()
}

fn classes(catalog: &Catalog, priors: &[Prior], bay: &Bay<'_>) -> Vec<order::Class> {
    let frank = catalog.severity().frank_share;
    let each = priors.iter().enumerate().flat_map(|(cause, prior)| {
        let open = !bay.cleared.contains(&prior.cause);
        let weight = if open { prior.probability } else { 0.0 };
        [frank, 1.0 - frank].map(|share| order::Class {
            cause,
            weight: weight * share,
        })
    });
    each.collect()
}

fn repairs(catalog: &Catalog, access: f64) -> Vec<ModelRepair<'_>> {
    let of = |cause: &crate::domain::catalog::Cause| {
        let repair = catalog.repairs_for(&cause.id).next();
        let work = repair.map_or(60.0, |r| r.minutes(access));
        ModelRepair {
            repair,
            minutes: work + catalog.verify_minutes(),
            head_off: cause.head_off == HeadOff::Yes,
        }
    };
    catalog.causes().iter().map(of).collect()
}

/// Repairs in turn; without proof all proof tests must be done (again) before the head comes off.
fn stopping(repairs: &[ModelRepair<'_>], catalog: &Catalog, access: f64) -> order::Stopping {
    let proofs = catalog.tests().iter().filter(|t| t.proof);
    let minutes = |t: &Test| t.minutes_easy + access * (t.minutes_hard - t.minutes_easy);
    order::Stopping::InTurn {
        repairs: repairs
            .iter()
            .map(|r| order::Repair {
                minutes: r.minutes,
                guarded: r.head_off,
            })
            .collect(),
        unproven: proofs.map(minutes).sum(),
    }
}

fn outcome(test: &ModelTest<'_>, abnormal: bool, path: Option<&str>) -> Option<usize> {
    match (abnormal, test.paths.is_empty()) {
        (false, _) => Some(0),
        (true, true) => Some(1),
        (true, false) => Some(1 + test.paths.iter().position(|p| Some(*p) == path)?),
    }
}

/// Counts in what was seen; the set-ups of a test that was done stand.
fn course(problem: &order::Problem, tests: &[ModelTest<'_>], bay: &Bay<'_>) -> Result<Course> {
    let follow_up = |t: usize| tests[t].test.code.is_none() && tests[t].test.id != WET;
    let at = Position::start(problem, &[], |_| true);
    let mut course = Course::start(problem, at);
    // The dry reading first: the wet step waits for it.
    let mut seen: Vec<&Seen> = bay.seen.iter().collect();
    seen.sort_by_key(|s| s.test == WET);
    for result in seen {
        let wrong = |what: &str| {
            Problem::usage(what)
                .field("--seen")
                .value(result.test.as_str())
        };
        let Some(test) = tests.iter().position(|t| t.test.id == result.test) else {
            return Err(
                wrong("the catalog does not know what this test says about the causes").remedy(
                    "leave it out, or give its chances in [follow_up] of a catalog of your own",
                ),
            );
        };
        let known = tests[test].test;
        if !course.at.available(problem).any(|t| t == test) {
            let what = match known.id == WET {
                true => "the wet step tells something only after a low dry reading",
                false => "this test is there twice",
            };
            return Err(wrong(what)
                .remedy("give each result once, with the dry reading beside the wet one"));
        }
        let Some(outcome) = outcome(&tests[test], result.abnormal, result.path.as_deref()) else {
            return Err(
                wrong("an abnormal leakage test says where it leaks").remedy(format!(
                    "write {}:abnormal:PATH with one of {}",
                    known.id,
                    tests[test].paths.join(", ")
                )),
            );
        };
        course = course.after(problem, test, outcome);
    }
    for t in (0..tests.len()).filter(|t| follow_up(*t)) {
        course.at = course.at.without(problem, t);
    }
    if course.weights.iter().sum::<f64>() > 0.0 {
        return Ok(course);
    }
    Err(Problem::usage("every cause is ruled out")
        .field("--cleared")
        .remedy("leave at least one cause open"))
}

/// Minutes of tests, and how hard the engine is to reach.
struct Clock<'a> {
    bay: &'a Bay<'a>,
    access: (f64, u64),
    /// Measured times and their sum in hundredths, by test: this bank, this family.
    bank: BTreeMap<&'a str, (u64, i64)>,
    family: BTreeMap<&'a str, (u64, i64)>,
}

impl<'a> Clock<'a> {
    fn new(catalog: &Catalog, tally: &'a TestOrderTally, bay: &'a Bay<'a>) -> Self {
        let mut bank: BTreeMap<&str, (u64, i64)> = BTreeMap::new();
        let mut family: BTreeMap<&str, (u64, i64)> = BTreeMap::new();
        let bank_of = |n: i64| bay.family.and_then(|f| f.bank_of(f.cylinder(n)?));
        let own_bank = bay.cylinder.and_then(|c| bank_of(i64::from(c)));
        for step in tally.steps.iter().filter(|s| s.timed > 0) {
            if bay
                .family
                .is_none_or(|f| step.family.as_ref() != Some(&f.id))
            {
                continue;
            }
            let add = |to: &mut BTreeMap<&'a str, (u64, i64)>| {
                let sum = to.entry(step.test.as_str()).or_default();
                sum.0 += step.timed;
                sum.1 += step.hundredths;
            };
            add(&mut family);
            if own_bank.is_some() && step.cylinder.and_then(bank_of) == own_bank {
                add(&mut bank);
            }
        }
        let learnt = access(catalog, if bank.is_empty() { &family } else { &bank });
        Self {
            access: match bay.access {
                Some(given) => (given, 0),
                None => learnt,
            },
            bay,
            bank,
            family,
        }
    }

    fn minutes(&self, test: &Test) -> (f64, MinutesFrom, u64) {
        if let Some(given) = self.bay.minutes.get(&test.id) {
            return (*given, MinutesFrom::Given, 0);
        }
        let sources = [
            (&self.bank, MinutesFrom::Bank),
            (&self.family, MinutesFrom::Family),
        ];
        for (times, from) in sources {
            if let Some(&(n, sum)) = times.get(test.id.as_str()).filter(|t| t.0 >= ENOUGH_TIMES) {
                return (sum as f64 / 100.0 / n as f64, from, n);
            }
        }
        let assumed = test.minutes_easy + self.access.0 * (test.minutes_hard - test.minutes_easy);
        (assumed, MinutesFrom::Assumed, 0)
    }
}

/// Access from measured minutes: where they lie between those for easy and for hard access, by least squares.
fn access(catalog: &Catalog, times: &BTreeMap<&str, (u64, i64)>) -> (f64, u64) {
    let (mut above, mut span, mut timed) = (0.0, 0.0, 0);
    for (test, &(n, sum)) in times {
        if let Some(test) = catalog.test(test) {
            let width = test.minutes_hard - test.minutes_easy;
            above += width * (sum as f64 / 100.0 - n as f64 * test.minutes_easy);
            span += n as f64 * width * width;
            timed += n;
        }
    }
    match span > 0.0 && timed >= 4 * ENOUGH_TIMES {
        true => ((above / span).clamp(0.0, 1.0), timed),
        false => (0.0, 0),
    }
}
