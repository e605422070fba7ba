//! One group: its marginal likelihood on a grid of shapes that fits what it knows.

use crate::stats::lifetime::Observed;

/// Shapes beyond these are not looked at.
const SHAPES: (f64, f64) = (0.2, 12.0);
/// Nodes of a group's grid: odd, so that the middle one is the best shape.
const NODES: usize = 61;
/// A fall of the log-likelihood that no draw will reach.
const FALL: f64 = 22.0;

/// One node of the grid of shapes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Node {
    /// ln b.
    pub log_shape: f64,
    /// E(b).
    pub exposure: f64,
    /// d ln b + b L.
    pub density: f64,
}

/// A group in the form the posterior needs.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Group {
    pub failures: f64,
    pub nodes: Vec<Node>,
}

impl Group {
    /// The group of these lives, with distances in units of e^`log_reference`.
    pub fn new(observed: &Observed, log_reference: f64) -> Self {
        let failures = observed.failures() as f64;
        let log_sum = observed
            .terms()
            .iter()
            .map(|term| term.failed * (term.log_distance - log_reference))
            .sum();
        let group = Moving {
            observed,
            log_reference,
            failures,
            log_sum,
        };
        let (mut low, mut high) = (SHAPES.0.ln(), SHAPES.1.ln());
        // Narrow to where the profile likelihood lives; a flat one keeps the whole range.
        for _ in 0..6 {
            let nodes = group.grid(low, high);
            let value = |node: &Node| node.density - failures * node.exposure.ln();
            let values: Vec<f64> = nodes.iter().map(value).collect();
            let top = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let inside = |v: &&f64| **v > top - FALL;
            let first = values.iter().position(|v| inside(&v)).unwrap_or(0);
            let last = values.iter().rposition(|v| inside(&v)).unwrap_or(NODES - 1);
            let at = |i: usize| nodes.get(i.min(NODES - 1)).map(|n| n.log_shape);
            let (Some(from), Some(to)) = (at(first.saturating_sub(1)), at(last + 1)) else {
                break;
            };
            if failures == 0.0 || to - from > 0.5 * (high - low) {
                break;
            }
            (low, high) = (from, to);
        }
        Self {
            failures,
            nodes: group.grid(low, high),
        }
    }

    /// Half the distance between two nodes.
    pub fn half_step(&self) -> f64 {
        match (self.nodes.first(), self.nodes.last()) {
            (Some(first), Some(last)) => {
                0.5 * (last.log_shape - first.log_shape) / (NODES - 1) as f64
            }
            _ => 0.0,
        }
    }

    /// E at a shape, or at the nearest one that this group's failures leave likely.
    pub fn exposure_near(&self, log_shape: f64) -> f64 {
        let Some((first, last)) = self.nodes.first().zip(self.nodes.last()) else {
            return 0.0;
        };
        let at = log_shape.clamp(first.log_shape, last.log_shape);
        let node = self.nodes.partition_point(|node| node.log_shape < at);
        self.exposure_at(node, at)
    }

    /// E at a shape near node `i`, linear in the logarithms.
    pub fn exposure_at(&self, i: usize, log_shape: f64) -> f64 {
        let Some(here) = self.nodes.get(i) else {
            return 0.0;
        };
        let other = if log_shape < here.log_shape && i > 0 {
            i - 1
        } else {
            i + 1
        };
        let Some(next) = self.nodes.get(other).filter(|_| here.exposure > 0.0) else {
            return here.exposure;
        };
        let share = (log_shape - here.log_shape) / (next.log_shape - here.log_shape);
        (here.exposure.ln() + share * (next.exposure / here.exposure).ln()).exp()
    }
}

struct Moving<'a> {
    observed: &'a Observed,
    log_reference: f64,
    failures: f64,
    log_sum: f64,
}

impl Moving<'_> {
    fn grid(&self, low: f64, high: f64) -> Vec<Node> {
        (0..NODES)
            .map(|i| {
                let log_shape = low + (high - low) * i as f64 / (NODES - 1) as f64;
                let shape = log_shape.exp();
                let exposure = if self.observed.lives() == 0 {
                    0.0
                } else {
                    (self.observed.log_exposure(shape) - shape * self.log_reference).exp()
                };
                Node {
                    log_shape,
                    exposure,
                    density: self.failures * log_shape + shape * self.log_sum,
                }
            })
            .collect()
    }
}
