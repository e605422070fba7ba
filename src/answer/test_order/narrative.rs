//! The plan in words: results, instructions, and the numbered list.

use super::model::Model;
use super::types::{Likely, Meaning, Node, NodeBranch, PlanLine};
use crate::domain::catalog::{Catalog, Kind};
use crate::stats::test_order::{Plan, Step};

/// Causes named at a point of the plan.
const NAMED: usize = 3;

/// Points reached less often than this are left out of the numbered list.
const RARE: f64 = 0.02;

/// Longest way in the numbered list, in tests.
const DEEPEST: usize = 8;

/// Turns the numbers of a plan into words.
#[derive(Debug, Clone, Copy)]
pub struct Words<'a> {
    /// Titles.
    pub catalog: &'a Catalog,
    /// What the numbers stand for.
    pub model: &'a Model<'a>,
}

impl Words<'_> {
    /// Title of a test.
    pub fn test(&self, test: usize) -> String {
        self.model
            .tests
            .get(test)
            .map_or(String::new(), |t| t.test.title.clone())
    }

    fn test_id(&self, test: usize) -> String {
        self.model
            .tests
            .get(test)
            .map_or(String::new(), |t| t.test.id.clone())
    }

    /// Result id: `normal`, `abnormal`, `abnormal:PATH`.
    fn result_id(&self, test: usize, outcome: usize) -> String {
        let paths = self.model.tests.get(test).map_or(&[][..], |t| &t.paths);
        match (outcome, outcome.checked_sub(1).and_then(|i| paths.get(i))) {
            (0, _) => "normal".to_string(),
            (_, Some(path)) => format!("abnormal:{path}"),
            _ => "abnormal".to_string(),
        }
    }

    /// A result in words.
    pub fn result(&self, test: usize, outcome: usize) -> String {
        let id = self.result_id(test, outcome);
        match id.split_once(':') {
            Some((_, path)) => format!("leaks {}", self.catalog.title(Kind::LeakPath, path)),
            None if outcome == 0 => "normal".to_string(),
            None => match self.model.tests.get(test).map(|t| t.test.id.as_str()) {
                Some("wet_compression") => "recovers with oil".to_string(),
                Some("coil_swap") => "moves with the coil".to_string(),
                _ => "abnormal".to_string(),
            },
        }
    }

    /// The most probable causes.
    pub fn likely(&self, probabilities: &[f64]) -> Vec<Likely> {
        let mut order: Vec<usize> = (0..probabilities.len()).collect();
        order.sort_by(|a, b| {
            probabilities[*b]
                .total_cmp(&probabilities[*a])
                .then(a.cmp(b))
        });
        let named = order
            .into_iter()
            .take(NAMED)
            .filter(|i| probabilities[*i] > 0.0);
        named
            .map(|i| Likely {
                cause: self.model.priors[i].cause.clone(),
                title: self.cause(i),
                probability: probabilities[i],
            })
            .collect()
    }

    fn cause(&self, cause: usize) -> String {
        let id = &self.model.priors[cause].cause;
        self.catalog.title(Kind::Cause, id).to_string()
    }

    /// What each result of the first test would mean.
    pub fn meanings(&self, plan: &Plan) -> Vec<Meaning> {
        let Step::Test { test, branches, .. } = &plan.step else {
            return Vec::new();
        };
        branches
            .iter()
            .map(|b| Meaning {
                result: self.result(*test, b.outcome),
                chance: b.chance,
                likely: self.likely(&b.plan.causes),
            })
            .collect()
    }

    /// The whole tree.
    pub fn node(&self, plan: &Plan) -> Node {
        let blank = Node {
            action: "repair",
            test: None,
            minutes: None,
            ahead: plan.minutes,
            likely: self.likely(&plan.causes),
            repairs: Vec::new(),
            branches: Vec::new(),
        };
        match &plan.step {
            Step::Stop { order, .. } => Node {
                repairs: self
                    .repairs(order)
                    .map(|i| self.model.priors[i].cause.clone())
                    .collect(),
                ..blank
            },
            Step::Test {
                test,
                minutes,
                branches,
            } => Node {
                action: "test",
                test: Some(self.test_id(*test)),
                minutes: Some(*minutes),
                branches: branches
                    .iter()
                    .map(|b| NodeBranch {
                        result: self.result_id(*test, b.outcome),
                        chance: b.chance,
                        next: self.node(&b.plan),
                    })
                    .collect(),
                ..blank
            },
        }
    }

    fn repairs<'s>(&'s self, order: &'s [usize]) -> impl Iterator<Item = usize> + 's {
        order.iter().copied().take(NAMED)
    }

    /// The numbered list: every point that is reached now and then, each after the one it follows.
    pub fn lines(&self, plan: &Plan) -> Vec<PlanLine> {
        let mut lines = Vec::new();
        self.add(plan, None, None, 1.0, 0, &mut lines);
        lines
    }

    fn add(
        &self,
        plan: &Plan,
        after: Option<u64>,
        when: Option<String>,
        reached: f64,
        depth: usize,
        lines: &mut Vec<PlanLine>,
    ) {
        let number = lines.len() as u64 + 1;
        lines.push(PlanLine {
            number,
            after,
            when,
            reached,
            instruction: self.instruction(plan),
            minutes: match plan.step {
                Step::Test { minutes, .. } => Some(minutes),
                Step::Stop { .. } => None,
            },
            ahead: plan.minutes,
            likely: self.likely(&plan.causes),
        });
        if let Step::Test { test, branches, .. } = &plan.step {
            for branch in branches {
                let reached = reached * branch.chance;
                if reached >= RARE && depth < DEEPEST {
                    let when = self.result(*test, branch.outcome);
                    self.add(
                        &branch.plan,
                        Some(number),
                        Some(when),
                        reached,
                        depth + 1,
                        lines,
                    );
                }
            }
        }
    }

    /// What to do at a point of the plan.
    pub fn instruction(&self, plan: &Plan) -> String {
        match &plan.step {
            Step::Test { test, .. } => self.test(*test),
            Step::Stop { order, .. } => {
                let first = order.first().copied().unwrap_or_default();
                let repair = &self.model.repairs[first];
                let what = repair
                    .repair
                    .map_or("repair".to_string(), |r| r.title.clone());
                let mut text = format!("stop and repair: {} ({what})", self.cause(first));
                let then = order.iter().skip(1).take(NAMED - 1);
                let then: Vec<String> = then.map(|i| self.cause(*i)).collect();
                if !then.is_empty() {
                    text += &format!("; if that was not it: {}", then.join(", then "));
                }
                text
            }
        }
    }
}
