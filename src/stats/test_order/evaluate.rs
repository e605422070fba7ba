//! What a rule of thumb costs, exactly, under the same problem that the best plan is found for.

use super::position::{Position, updated};
use super::problem::Problem;
use super::rule::Rule;
use super::stopping::Turns;

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
    let mut walk = RuleWalk {
        problem,
        rule,
        patience,
        turns: Turns::new(&problem.stopping, problem.causes),
    };
    let start = walk.point(course.clone());
    walk.minutes(&start)
}

/// The walk through the positions that a rule comes to; neighbours share the order of their repairs.
struct RuleWalk<'a> {
    problem: &'a Problem,
    rule: &'a Rule<'a>,
    patience: Patience,
    turns: Turns<'a>,
}

/// A position on the walk.
struct Point {
    course: Course,
    by_cause: Vec<f64>,
    /// What stopping here costs, times the sum of the weights.
    stopped: f64,
    /// The test the rule goes on with, and its minutes times the sum of the weights; `None` to stop.
    next: Option<(usize, f64)>,
}

impl Point {
    /// What stopping here or going on costs at least: what remains after a test is never negative.
    fn least(&self) -> f64 {
        self.next
            .map_or(self.stopped, |(_, price)| price.min(self.stopped))
    }
}

impl RuleWalk<'_> {
    fn point(&mut self, course: Course) -> Point {
        let by_cause = self.problem.by_cause(&course.weights);
        let stopped = self.turns.cost(&by_cause, course.at.proved);
        Point {
            next: self.next(&course, &by_cause, stopped),
            stopped,
            by_cause,
            course,
        }
    }

    fn next(&self, course: &Course, by_cause: &[f64], stopped: f64) -> Option<(usize, f64)> {
        let total: f64 = by_cause.iter().sum();
        let price = |test| total * course.at.price(self.problem, test);
        let named = || {
            let test = self.rule.next(self.problem, course)?;
            Some((test, price(test)))
        };
        match self.patience {
            Patience::BestMoment => {
                let any = course.at.available(self.problem);
                let pays = any.map(price).any(|price| price < stopped);
                pays.then(named)?.filter(|(_, price)| *price < stopped)
            }
            Patience::ToTheEnd => {
                let open = by_cause.iter().filter(|w| **w > 0.0).count();
                (open > 1).then(named)?
            }
        }
    }

    /// By cause, times its weight.
    fn minutes(&mut self, here: &Point) -> Vec<f64> {
        let best_moment = self.patience == Patience::BestMoment;
        let Some((test, price)) = here.next else {
            return self.stop(here);
        };
        let after: Vec<Point> = (0..self.problem.outcomes(test))
            .map(|outcome| here.course.after(self.problem, test, outcome))
            .filter(|course| course.weights.iter().any(|w| *w > 0.0))
            .map(|course| self.point(course))
            .collect();
        if best_moment && price + after.iter().map(Point::least).sum::<f64>() >= here.stopped {
            return self.stop(here);
        }
        let price = here.course.at.price(self.problem, test);
        let mut sum: Vec<f64> = here.by_cause.iter().map(|w| w * price).collect();
        for point in &after {
            for (sum, m) in sum.iter_mut().zip(self.minutes(point)) {
                *sum += m;
            }
        }
        let better = sum.iter().sum::<f64>() < here.stopped;
        match best_moment && !better {
            true => self.stop(here),
            false => sum,
        }
    }

    fn stop(&mut self, here: &Point) -> Vec<f64> {
        let proved = here.course.at.proved;
        self.turns.cost_by_cause(&here.by_cause, proved)
    }
}
