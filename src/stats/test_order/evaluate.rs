//! What a rule of thumb costs, exactly, under the same problem that the best plan is found for.

use super::position::{Position, updated};
use super::problem::Problem;
use super::rule::Rule;

/// A position together with the weights of the classes that its outcomes leave, not normalised.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// Where it stands.
    pub at: Position,
    /// Weights by class.
    pub weights: Vec<f64>,
}

impl Course {
    /// The start, with the problem's own weights.
    pub fn start(problem: &Problem, at: Position) -> Self {
        Self {
            at,
            weights: problem.weights.clone(),
        }
    }

    /// After an outcome of a test.
    pub fn after(&self, problem: &Problem, test: usize, outcome: usize) -> Self {
        Self {
            at: self.at.after(problem, test, outcome),
            weights: updated(problem, &self.weights, test, outcome),
        }
    }

    /// Probability of each cause here.
    pub fn causes(&self, problem: &Problem) -> Vec<f64> {
        let total: f64 = self.weights.iter().sum();
        let by_cause = problem.by_cause(&self.weights);
        by_cause.into_iter().map(|w| w / total).collect()
    }

    /// Probability of each outcome of a test here.
    pub fn chances(&self, problem: &Problem, test: usize) -> Vec<f64> {
        let total: f64 = self.weights.iter().sum();
        (0..problem.outcomes(test))
            .map(|o| updated(problem, &self.weights, test, o).iter().sum::<f64>() / total)
            .collect()
    }
}

/// When a rule stops testing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Patience {
    /// At the best moment for the tests the rule would go on with: what is most favourable to the rule.
    BestMoment,
    /// Only when no test is left that it would run, or one cause is certain.
    ToTheEnd,
}

/// Expected minutes of testing as `rule` says, and of the wrong repairs after that.
pub fn evaluate(problem: &Problem, course: &Course, rule: &Rule<'_>, patience: Patience) -> f64 {
    let total: f64 = course.weights.iter().sum();
    let minutes = minutes(problem, course, rule, patience);
    minutes.iter().sum::<f64>() / total
}

/// The same given each cause; `None` for a cause that is out of the question.
pub fn evaluate_by_cause(
    problem: &Problem,
    course: &Course,
    rule: &Rule<'_>,
    patience: Patience,
) -> Vec<Option<f64>> {
    let minutes = minutes(problem, course, rule, patience);
    given_cause(&minutes, &problem.by_cause(&course.weights))
}

/// Minutes times weight, over weight.
pub(super) fn given_cause(minutes: &[f64], weights: &[f64]) -> Vec<Option<f64>> {
    let each = minutes.iter().zip(weights);
    each.map(|(m, w)| (*w > 0.0).then(|| m / w)).collect()
}

/// By cause, times its weight.
fn minutes(problem: &Problem, course: &Course, rule: &Rule<'_>, patience: Patience) -> Vec<f64> {
    let by_cause = problem.by_cause(&course.weights);
    let stop = problem.stopping.cost_by_cause(&by_cause, course.at.proved);
    let stopped: f64 = stop.iter().sum();
    let total: f64 = by_cause.iter().sum();
    let hopeless = match patience {
        Patience::BestMoment => {
            let cheapest = course.at.available(problem);
            let cheapest = cheapest.map(|t| course.at.price(problem, t));
            stopped <= total * cheapest.fold(f64::INFINITY, f64::min)
        }
        Patience::ToTheEnd => by_cause.iter().filter(|w| **w > 0.0).count() == 1,
    };
    let next = (!hopeless).then(|| rule.next(problem, course)).flatten();
    let Some(test) = next else {
        return stop;
    };
    let price = course.at.price(problem, test);
    let mut sum: Vec<f64> = by_cause.iter().map(|w| w * price).collect();
    for outcome in 0..problem.outcomes(test) {
        let child = course.after(problem, test, outcome);
        if child.weights.iter().any(|w| *w > 0.0) {
            for (sum, m) in sum.iter_mut().zip(minutes(problem, &child, rule, patience)) {
                *sum += m;
            }
        }
    }
    let better = sum.iter().sum::<f64>() < stopped;
    match patience {
        Patience::BestMoment if !better => stop,
        _ => sum,
    }
}
