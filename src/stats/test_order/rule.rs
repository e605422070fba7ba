//! Rules of thumb for the next test, to hold the best plan against.

use super::evaluate::Course;
use super::position::updated;
use super::problem::Problem;

/// A rule that names the next test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule<'a> {
    /// The largest expected fall of the entropy of the causes for each minute (common in the literature on troubleshooting;
    /// Lindley 1956, Ann Math Statist 27:986, for the measure). Ties by number.
    InformationPerMinute,
    /// The fewest minutes. Ties by number.
    CheapestFirst,
    /// A fixed order; tests that are not to be had are passed over.
    InOrder(&'a [usize]),
}

impl Rule<'_> {
    /// The test it runs next, if one is left that it would run.
    pub fn next(&self, problem: &Problem, course: &Course) -> Option<usize> {
        let available = || course.at.available(problem);
        match self {
            Self::InOrder(order) => order.iter().copied().find(|t| course.at.can(problem, *t)),
            Self::CheapestFirst => {
                let priced = available().map(|t| (course.at.price(problem, t), t));
                priced
                    .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))
                    .map(|(_, t)| t)
            }
            Self::InformationPerMinute => most_information_per_minute(problem, course),
        }
    }
}

/// A test tells of the causes no more than the entropy of its own outcomes, which is soon worked out: tests that would not be best even
/// then are left out.
fn most_information_per_minute(problem: &Problem, course: &Course) -> Option<usize> {
    let total: f64 = course.weights.iter().sum();
    let mut tests: Vec<(f64, f64, usize)> = course
        .at
        .available(problem)
        .map(|t| {
            // A test that costs nothing is worth its information many times over, but not infinitely often.
            let price = course.at.price(problem, t).max(1e-9);
            let most = outcome_entropy(problem, course, t, total) / price;
            (most * (1.0 + ROUNDING), price, t)
        })
        .collect();
    tests.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.2.cmp(&b.2)));
    let mut best: Option<(f64, usize)> = None;
    for (most, price, test) in tests {
        if best.is_some_and(|(worth, _)| most < worth) {
            break;
        }
        let worth = information(problem, course, test) / price;
        if best.is_none_or(|(w, t)| worth > w || (worth >= w && test < t)) {
            best = Some((worth, test));
        }
    }
    best.filter(|(worth, _)| *worth > 1e-12)
        .map(|(_, test)| test)
}

/// Entropy of the outcomes of a test, in bits: `(f(w) - sum f(w_o)) / w`, with the letters of [`information`].
fn outcome_entropy(problem: &Problem, course: &Course, test: usize, total: f64) -> f64 {
    let weight = |chances: &Vec<f64>| -> f64 {
        let each = chances.iter().zip(&course.weights);
        each.map(|(p, w)| p * w).sum()
    };
    let outcomes = problem.tests[test].chances.iter();
    let sum: f64 = outcomes.map(|chances| times_log(weight(chances))).sum();
    (times_log(total) - sum) / total
}

/// More than what rounding takes off a bound.
const ROUNDING: f64 = 1e-9;

/// Expected fall of the entropy of the causes, in bits, that a test brings here: their mutual information.
///
/// From weights that are not normalised, with `f(x) = x log2 x`:
/// `(sum f(w_oc) - sum f(w_o) - sum f(w_c) + f(w)) / w` over outcomes o and causes c (Cover & Thomas 2006, Elements of Information
/// Theory, eq. 2.45).
pub fn information(problem: &Problem, course: &Course, test: usize) -> f64 {
    let by_cause = problem.by_cause(&course.weights);
    let total: f64 = by_cause.iter().sum();
    let mut bits = times_log(total) - sum_of(&by_cause);
    for outcome in 0..problem.outcomes(test) {
        let joint = problem.by_cause(&updated(problem, &course.weights, test, outcome));
        bits += sum_of(&joint) - times_log(joint.iter().sum());
    }
    bits / total
}

fn sum_of(weights: &[f64]) -> f64 {
    weights.iter().copied().map(times_log).sum()
}

/// `x log2 x`, 0 at 0.
fn times_log(x: f64) -> f64 {
    if x > 0.0 { x * x.log2() } else { 0.0 }
}
