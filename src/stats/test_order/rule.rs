//! Rules of thumb for the next test, to hold the best plan against.

use super::evaluate::Course;
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
            Self::InOrder(order) => {
                let can: Vec<usize> = available().collect();
                order.iter().copied().find(|t| can.contains(t))
            }
            Self::CheapestFirst => {
                let priced = available().map(|t| (course.at.price(problem, t), t));
                priced
                    .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))
                    .map(|(_, t)| t)
            }
            Self::InformationPerMinute => {
                let worth = |t| {
                    // A test that costs nothing is worth its information many times over, but not infinitely often.
                    information(problem, course, t) / course.at.price(problem, t).max(1e-9)
                };
                available()
                    .map(|t| (worth(t), t))
                    .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
                    .filter(|(worth, _)| *worth > 1e-12)
                    .map(|(_, t)| t)
            }
        }
    }
}

/// Expected fall of the entropy of the causes, in bits, that a test brings here.
pub fn information(problem: &Problem, course: &Course, test: usize) -> f64 {
    let chances = course.chances(problem, test);
    let after: f64 = chances
        .iter()
        .enumerate()
        .filter(|(_, p)| **p > 0.0)
        .map(|(o, p)| p * entropy(&course.after(problem, test, o).causes(problem)))
        .sum();
    entropy(&course.causes(problem)) - after
}

/// Shannon entropy in bits.
fn entropy(probabilities: &[f64]) -> f64 {
    let positive = probabilities.iter().filter(|p| **p > 0.0);
    -positive.map(|p| p * p.log2()).sum::<f64>()
}
