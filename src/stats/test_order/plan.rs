//! A plan as a tree: what to do, and what next by outcome.

use super::evaluate::{Course, given_cause};
use super::position::Position;
use super::problem::Problem;

/// What a plan does at a position.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// Run a test, then go on by its outcome.
    Test {
        /// The test.
        test: usize,
        /// Its minutes here, with the set-ups that did not stand yet.
        minutes: f64,
        /// What next, by outcome; impossible outcomes are left out.
        branches: Vec<Branch>,
    },
    /// Stop, and repair in this order.
    Stop {
        /// Causes in the order of their repairs (or the one decision).
        order: Vec<usize>,
        /// Expected minutes of wrong repairs.
        minutes: f64,
    },
}

/// One outcome of a test, and the plan after it.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// The outcome.
    pub outcome: usize,
    /// Its probability at this point.
    pub chance: f64,
    /// The plan after it.
    pub plan: Plan,
}

/// A plan from a position on.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Probability of each cause at this point.
    pub causes: Vec<f64>,
    /// Expected minutes from here on: tests and wrong repairs.
    pub minutes: f64,
    /// What to do.
    pub step: Step,
}

impl Plan {
    /// The plan that takes at each position the test `decide` names, or stops.
    pub fn of(
        problem: &Problem,
        course: &Course,
        decide: &mut dyn FnMut(Position, &[f64]) -> Option<usize>,
    ) -> Self {
        Self::grown(problem, course, decide, &mut |_| None)
    }

    /// The same, and where it would stop, the plan that `grow` gives instead, if it gives one.
    pub(super) fn grown(
        problem: &Problem,
        course: &Course,
        decide: &mut dyn FnMut(Position, &[f64]) -> Option<usize>,
        grow: &mut dyn FnMut(&Course) -> Option<Self>,
    ) -> Self {
        let total: f64 = course.weights.iter().sum();
        let by_cause = problem.by_cause(&course.weights);
        let causes: Vec<f64> = by_cause.iter().map(|w| w / total).collect();
        let Some(test) = decide(course.at, &course.weights) else {
            if let Some(plan) = grow(course) {
                return plan;
            }
            let minutes = problem.stopping.cost(&causes, course.at.proved);
            let order = problem.stopping.order(&causes, course.at.proved);
            return Self {
                causes,
                minutes,
                step: Step::Stop { order, minutes },
            };
        };
        let price = course.at.price(problem, test);
        let mut minutes = price;
        let mut branches = Vec::new();
        for outcome in 0..problem.outcomes(test) {
            let next = course.after(problem, test, outcome);
            let chance = next.weights.iter().sum::<f64>() / total;
            if chance > 0.0 {
                let plan = Self::grown(problem, &next, decide, grow);
                minutes += chance * plan.minutes;
                branches.push(Branch {
                    outcome,
                    chance,
                    plan,
                });
            }
        }
        Self {
            causes,
            minutes,
            step: Step::Test {
                test,
                minutes: price,
                branches,
            },
        }
    }

    /// Expected minutes of the plan given each cause; `None` for a cause that is out of the question.
    pub fn minutes_by_cause(&self, problem: &Problem, course: &Course) -> Vec<Option<f64>> {
        let minutes = self.weighted(problem, course, true);
        given_cause(&minutes, &problem.by_cause(&course.weights))
    }

    /// The part of them that goes into tests.
    pub fn test_minutes_by_cause(&self, problem: &Problem, course: &Course) -> Vec<Option<f64>> {
        let minutes = self.weighted(problem, course, false);
        given_cause(&minutes, &problem.by_cause(&course.weights))
    }

    /// By cause, times its weight; with or without wrong repairs.
    fn weighted(&self, problem: &Problem, course: &Course, repairs: bool) -> Vec<f64> {
        let by_cause = problem.by_cause(&course.weights);
        match &self.step {
            Step::Stop { .. } if !repairs => vec![0.0; by_cause.len()],
            Step::Stop { .. } => problem.stopping.cost_by_cause(&by_cause, course.at.proved),
            Step::Test {
                test,
                minutes,
                branches,
            } => {
                let mut sum: Vec<f64> = by_cause.iter().map(|w| w * minutes).collect();
                for branch in branches {
                    let next = course.after(problem, *test, branch.outcome);
                    for (sum, m) in sum
                        .iter_mut()
                        .zip(branch.plan.weighted(problem, &next, repairs))
                    {
                        *sum += m;
                    }
                }
                sum
            }
        }
    }

    /// How many ways through it there are.
    pub fn ends(&self) -> usize {
        match &self.step {
            Step::Stop { .. } => 1,
            Step::Test { branches, .. } => branches.iter().map(|b| b.plan.ends()).sum(),
        }
    }
}
