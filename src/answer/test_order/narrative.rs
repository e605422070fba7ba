//! The plan in words: results, instructions, and the numbered list.

use std::collections::BTreeMap;

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

/// Points of a plan, and where each is by the results seen.
#[derive(Debug, Default)]
struct Points {
    list: Vec<Node>,
    places: BTreeMap<Vec<(usize, usize)>, usize>,
}

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

    /// The whole plan as a list of points. What is done at a point follows from the results seen, whatever their order: points
    /// that saw the same are one.
    pub fn points(&self, plan: &Plan) -> Vec<Node> {
        let mut points = Points::default();
        self.point(plan, &mut Vec::new(), &mut points);
        points.list
    }

    /// Adds a point and all that follow; gives its place.
    fn point(&self, plan: &Plan, seen: &mut Vec<(usize, usize)>, points: &mut Points) -> usize {
        let mut key = seen.clone();
        key.sort_unstable();
        if let Some(place) = points.places.get(&key) {
            return *place;
        }
        let place = points.list.len();
        points.places.insert(key, place);
        points.list.push(self.node(plan));
        if let Step::Test { test, branches, .. } = &plan.step {
            for branch in branches {
                seen.push((*test, branch.outcome));
                let next = NodeBranch {
                    result: self.result_id(*test, branch.outcome),
                    chance: branch.chance,
                    next: self.point(&branch.plan, seen, points),
                };
                seen.pop();
                points.list[place].branches.push(next);
            }
        }
        place
    }

    /// A point without what follows.
    fn node(&self, plan: &Plan) -> Node {
        let likely = self.likely(&plan.causes).into_iter();
        let blank = Node {
            action: "repair",
            test: None,
            minutes: None,
            ahead: plan.minutes,
            odds: likely.map(|l| (l.cause, l.probability)).collect(),
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
            Step::Test { test, minutes, .. } => Node {
                action: "test",
                test: Some(self.test_id(*test)),
                minutes: Some(*minutes),
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
