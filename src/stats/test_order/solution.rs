//! The best plan, with its proof: exact where all combinations of outcomes can be numbered, within a stated gap where not.

use super::evaluate::Course;
use super::plan::{Plan, Step};
use super::problem::Problem;
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
    /// Tests that had to be left out of the search; they are tried again where the plan would stop.
    pub left_out: Vec<usize>,
    plan: Plan,
}

impl Solution {
    /// Solves from `course` on.
    ///
    /// Where there are too many combinations for `effort`, only the tests that help most are searched, and the others tried where
    /// that plan would stop. The lower bound then gives the outcomes of the others away for nothing before the first step: no plan is better off without.
    pub fn find(problem: &Problem, course: &Course, effort: Effort) -> Self {
        let (short, left_out) = match Sweep::size(problem, course) {
            Some(n) if n <= effort.positions => (course.clone(), Vec::new()),
            _ => shortened(problem, course, effort.positions),
        };
        let sweep = Sweep::solve(problem, &short, effort.threads);
        let plan = grown(problem, course, &sweep, &left_out);
        let minutes = plan.minutes;
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
            course: course.clone(),
            minutes,
            lower,
            left_out,
            plan,
        }
    }

    /// The plan as a tree.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The first test; `None` if it is best to stop at once.
    pub fn first(&self) -> Option<usize> {
        match self.plan.step {
            Step::Test { test, .. } => Some(test),
            Step::Stop { .. } => None,
        }
    }

    /// Expected minutes of the best plan that begins with `test`, so far as the search tells it from the best of all; `None` for a
    /// test that cannot be run or was not searched.
    pub fn minutes_with_first(&self, problem: &Problem, test: usize) -> Option<f64> {
        let minutes = self.sweep.minutes_with_first(problem, &self.course, test)?;
        Some(self.minutes + (minutes - self.sweep.minutes()).max(0.0))
    }

    /// How many positions were numbered.
    pub fn positions(&self) -> usize {
        self.sweep.positions()
    }
}

/// The plan of a search, with the tests left out of it tried where it would stop.
fn grown(problem: &Problem, course: &Course, sweep: &Sweep, left_out: &[usize]) -> Plan {
    let mut grow = |stopped: &Course| {
        let mut rest = stopped.clone();
        for test in (0..problem.tests()).filter(|t| !left_out.contains(t)) {
            rest.at = rest.at.without_alone(test);
        }
        for &test in left_out {
            let waits = problem.tests[test].after;
            if waits.is_some_and(|(first, _)| {
                !rest.at.open(first) && rest.at.outcome(problem, first).is_none()
            }) {
                rest.at = rest.at.without_alone(test);
            }
        }
        rest.at.available(problem).next()?;
        let again = Sweep::solve(problem, &rest, 1);
        again.decision(problem, rest.at)?;
        Some(Plan::of(problem, &rest, &mut |at, _| {
            again.decision(problem, at)
        }))
    };
    Plan::grown(
        problem,
        course,
        &mut |at, _| sweep.decision(problem, at),
        &mut grow,
    )
}

/// Positions up to which tests are compared by the plans they make possible.
const TRIED: usize = 20_000;

/// The tests that help most, as many as can be numbered with `positions`, and the others.
///
/// From none on, the test is added whose plan is the best; where trying them would take too long, in the order in which they helped
/// when they were last tried.
fn shortened(problem: &Problem, course: &Course, positions: usize) -> (Course, Vec<usize>) {
    let open: Vec<usize> = (0..problem.tests())
        .filter(|t| course.at.open(*t))
        .collect();
    let with = |chosen: &[usize]| {
        let mut short = course.clone();
        for test in open.iter().filter(|t| !chosen.contains(t)) {
            short.at = short.at.without(problem, *test);
        }
        short
    };
    // A test that waits for one that is not chosen could not be run.
    let fits = |chosen: &[usize], most: usize| {
        let short = with(chosen);
        let open = chosen.iter().all(|t| short.at.open(*t));
        open && Sweep::size(problem, &short).is_some_and(|n| n <= most)
    };
    let mut chosen: Vec<usize> = Vec::new();
    let mut rest = open.clone();
    loop {
        let mut tried: Vec<(f64, usize)> = Vec::new();
        for &test in &rest {
            let more = [chosen.as_slice(), &[test]].concat();
            if fits(&more, TRIED.min(positions)) {
                tried.push((Sweep::solve(problem, &with(&more), 1).minutes(), test));
            }
        }
        tried.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let Some(&(_, best)) = tried.first() else {
            break;
        };
        chosen.push(best);
        rest.retain(|t| *t != best);
        // Those that helped most this time come first where the next round can no longer be tried.
        let place = |t: &usize| tried.iter().position(|(_, o)| o == t).unwrap_or(usize::MAX);
        rest.sort_by_key(place);
    }
    for test in rest.clone() {
        let more = [chosen.as_slice(), &[test]].concat();
        if fits(&more, positions) {
            chosen = more;
            rest.retain(|t| *t != test);
        }
    }
    (with(&chosen), rest)
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
