//! The best plan, with its proof: exact where all combinations of outcomes can be numbered, within a stated gap where not.

use super::evaluate::Course;
use super::plan::Plan;
use super::problem::Problem;
use super::rule::information;
use super::sweep::Sweep;

/// How much work a solution may cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Most positions numbered at once; each takes nine bytes.
    pub positions: usize,
    /// Threads; they change nothing but the time.
    pub threads: usize,
    /// Whether to work out the lower bound where tests must be left out, which takes several times as long.
    pub bound: bool,
}

impl Default for Effort {
    fn default() -> Self {
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        Self {
            positions: 60_000_000,
            threads,
            bound: true,
        }
    }
}

/// A plan with the proof of how good it is.
#[derive(Debug)]
pub struct Solution {
    sweep: Sweep,
    course: Course,
    /// Expected minutes of the plan.
    pub minutes: f64,
    /// No plan takes less; equals `minutes` when the plan is proven best, `None` where the bound was not asked for.
    pub lower: Option<f64>,
    /// Tests that had to be left out of the plan.
    pub left_out: Vec<usize>,
}

impl Solution {
    /// Solves from `course` on.
    ///
    /// Where there are too many combinations for `effort`, the tests that say least for a minute are left out of the plan.
    /// The lower bound then gives their outcomes away for nothing before the first step: no plan is better off without.
    pub fn find(problem: &Problem, course: &Course, effort: Effort) -> Self {
        let mut short = course.clone();
        let mut left_out = Vec::new();
        while Sweep::size(problem, &short).is_none_or(|n| n > effort.positions) {
            let Some(test) = least_telling(problem, &short) else {
                break;
            };
            short.at = short.at.without(problem, test);
            left_out.push(test);
        }
        let sweep = Sweep::solve(problem, &short, effort.threads);
        let minutes = sweep.minutes();
        let total: f64 = course.weights.iter().sum();
        let lower = match (left_out.is_empty(), effort.bound) {
            (true, _) => Some(minutes),
            (false, true) => {
                Some((given(problem, &short, &left_out, effort.threads) / total).min(minutes))
            }
            (false, false) => None,
        };
        Self {
            sweep,
            course: short,
            minutes,
            lower,
            left_out,
        }
    }

    /// The plan as a tree.
    pub fn plan(&self, problem: &Problem) -> Plan {
        Plan::of(problem, &self.course, &mut |at, _| {
            self.sweep.decision(problem, at)
        })
    }

    /// Where the plan starts: the start asked for, less the tests left out.
    pub fn course(&self) -> &Course {
        &self.course
    }

    /// The first test; `None` if it is best to stop at once.
    pub fn first(&self, problem: &Problem) -> Option<usize> {
        self.sweep.decision(problem, self.course.at)
    }

    /// Least expected minutes of the plans that begin with `test`.
    pub fn minutes_with_first(&self, problem: &Problem, test: usize) -> Option<f64> {
        self.sweep.minutes_with_first(problem, &self.course, test)
    }

    /// How many positions were numbered.
    pub fn positions(&self) -> usize {
        self.sweep.positions()
    }
}

/// The test with the least information for a minute at the start; one that others wait for goes last.
fn least_telling(problem: &Problem, course: &Course) -> Option<usize> {
    let open = (0..problem.tests()).filter(|t| course.at.open(*t));
    let worth = |t: usize| {
        let waited_for = problem
            .tests
            .iter()
            .any(|o| o.after.is_some_and(|(first, _)| first == t));
        let worth = information(problem, course, t) / course.at.price(problem, t).max(1e-9);
        (waited_for, worth)
    };
    open.min_by(|a, b| {
        let (a, b) = (worth(*a), worth(*b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    })
}

/// Expected minutes, times the sum of weights, when the outcomes of `tests` are given away before the first step.
fn given(problem: &Problem, course: &Course, tests: &[usize], threads: usize) -> f64 {
    let Some((&test, others)) = tests.split_first() else {
        let total: f64 = course.weights.iter().sum();
        return total * Sweep::solve(problem, course, threads).minutes();
    };
    (0..problem.outcomes(test))
        .map(|outcome| {
            let mut told = course.after(problem, test, outcome);
            // Known without having been run: nothing was paid, but proof is proof.
            told.at = told.at.with_paid_of(course.at);
            if told.weights.iter().any(|w| *w > 0.0) {
                given(problem, &told, others, threads)
            } else {
                0.0
            }
        })
        .sum()
}
