//! The problem in numbers: classes of causes with their weights, tests with their outcomes, set-ups, and what stopping costs.

use super::stopping::Stopping;
use crate::stats::error::Error;

/// A way in which the fault may be there: one cause at one severity, say. Outcomes are independent given the class.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Class {
    /// The cause it belongs to, from 0.
    pub cause: usize,
    /// Its probability, or anything proportional to it.
    pub weight: f64,
}

/// One outcome of a test.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Its probability given each class.
    pub chances: Vec<f64>,
    /// Whether it is the proof that guarded repairs ask for.
    pub proof: bool,
}

/// A test; each can be run once.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// Minutes of its own, set-ups apart; not negative.
    pub minutes: f64,
    /// The set-ups it needs.
    pub set_ups: Vec<usize>,
    /// Its outcomes, at least one; their chances sum to 1 given each class.
    pub outcomes: Vec<Outcome>,
    /// It makes sense only once that test (first) had that outcome (second).
    pub after: Option<(usize, usize)>,
}

/// A checked problem, laid out for the search.
#[derive(Debug, Clone)]
pub struct Problem {
    pub(super) weights: Vec<f64>,
    pub(super) cause_of: Vec<usize>,
    pub(super) causes: usize,
    pub(super) tests: Vec<Laid>,
    pub(super) set_ups: Vec<f64>,
    pub(super) stopping: Stopping,
}

/// A test laid out for the search.
#[derive(Debug, Clone)]
pub(super) struct Laid {
    pub minutes: f64,
    /// Set-ups as bits.
    pub set_ups: u64,
    /// Chances by outcome, then by class.
    pub chances: Vec<Vec<f64>>,
    /// Outcomes that are proof, as bits.
    pub proof: u64,
    pub after: Option<(usize, usize)>,
    /// What an outcome adds to the key of a position: (outcome + 1) times this.
    pub stride: u64,
}

/// Sets of tests and of set-ups are bits of one word.
const MOST: usize = 64;

impl Problem {
    /// Checks a problem and lays it out. `set_ups` are the minutes of each set-up.
    ///
    /// # Errors
    /// Weights or minutes that are negative or not finite, no weight at all, chances that do not sum to 1, an index that
    /// points nowhere, a test that waits for itself or for a later one, and more tests than positions can be numbered for.
    pub fn new(
        classes: &[Class],
        causes: usize,
        tests: &[Test],
        set_ups: &[f64],
        stopping: Stopping,
    ) -> Result<Self, Error> {
        check_classes(classes, causes)?;
        stopping.check(causes)?;
        if set_ups.len() > MOST || tests.len() > MOST {
            return Err(input("tests", "no more than 64 tests and 64 set-ups"));
        }
        if !set_ups.iter().all(|m| m.is_finite() && *m >= 0.0) {
            return Err(input("set_ups", "minutes must be finite and not negative"));
        }
        let mut laid: Vec<Laid> = Vec::with_capacity(tests.len());
        let mut stride: u64 = 1;
        for test in tests {
            check_test(test, &laid, classes.len(), set_ups.len())?;
            laid.push(Laid {
                minutes: test.minutes,
                set_ups: test.set_ups.iter().fold(0, |bits, s| bits | 1 << s),
                chances: test.outcomes.iter().map(|o| o.chances.clone()).collect(),
                proof: bits(test.outcomes.iter().map(|o| o.proof)),
                after: test.after,
                stride,
            });
            stride = stride
                .checked_mul(test.outcomes.len() as u64 + 1)
                .ok_or_else(|| input("tests", "too many outcomes to number their combinations"))?;
        }
        Ok(Self {
            weights: classes.iter().map(|c| c.weight).collect(),
            cause_of: classes.iter().map(|c| c.cause).collect(),
            causes,
            tests: laid,
            set_ups: set_ups.to_vec(),
            stopping,
        })
    }

    /// How many tests there are.
    pub fn tests(&self) -> usize {
        self.tests.len()
    }

    /// How many outcomes a test has; 0 for a test that is not there.
    pub fn outcomes(&self, test: usize) -> usize {
        self.tests.get(test).map_or(0, |t| t.chances.len())
    }

    /// How many causes there are.
    pub fn causes(&self) -> usize {
        self.causes
    }

    /// Weights of the causes, given weights of the classes.
    pub(super) fn by_cause(&self, weights: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.causes];
        for (w, cause) in weights.iter().zip(&self.cause_of) {
            sums[*cause] += w;
        }
        sums
    }
}

fn bits(flags: impl Iterator<Item = bool>) -> u64 {
    flags
        .enumerate()
        .fold(0, |bits, (i, flag)| bits | u64::from(flag) << i)
}

pub(super) fn input(name: &'static str, requirement: &'static str) -> Error {
    Error::Input { name, requirement }
}

fn check_classes(classes: &[Class], causes: usize) -> Result<(), Error> {
    let good = |c: &Class| c.cause < causes && c.weight.is_finite() && c.weight >= 0.0;
    if !classes.iter().all(good) {
        return Err(input(
            "classes",
            "weights must be finite and not negative, and every cause one of those told",
        ));
    }
    if classes.iter().map(|c| c.weight).sum::<f64>() > 0.0 {
        Ok(())
    } else {
        Err(input("classes", "some weight must be above 0"))
    }
}

fn check_test(test: &Test, before: &[Laid], classes: usize, set_ups: usize) -> Result<(), Error> {
    if !(test.minutes.is_finite() && test.minutes >= 0.0) {
        return Err(Error::Parameter {
            name: "minutes",
            value: test.minutes,
            requirement: "must be finite and not negative",
        });
    }
    if test.set_ups.iter().any(|s| *s >= set_ups) {
        return Err(input("tests", "a test names a set-up that is not there"));
    }
    if let Some((first, outcome)) = test.after
        && before.get(first).is_none_or(|t| outcome >= t.chances.len())
    {
        return Err(input(
            "tests",
            "a test can wait for an outcome of an earlier test only",
        ));
    }
    let counted = (1..MOST).contains(&test.outcomes.len());
    if !counted || test.outcomes.iter().any(|o| o.chances.len() != classes) {
        return Err(input(
            "tests",
            "a test needs 1 to 63 outcomes, with a chance for every class",
        ));
    }
    for class in 0..classes {
        let chances = test.outcomes.iter().map(|o| o.chances[class]);
        if chances.clone().any(|p| !(0.0..=1.0).contains(&p)) {
            return Err(input("chances", "must lie between 0 and 1"));
        }
        if (chances.sum::<f64>() - 1.0).abs() > 1e-9 {
            return Err(input(
                "chances",
                "must sum to 1 over the outcomes of a test",
            ));
        }
    }
    Ok(())
}
