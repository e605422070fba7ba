//! Independent draws of every group's life from the posterior.

use rand::{Rng, RngExt};
use rand_distr::{Distribution, Gamma};

use super::posterior::{PooledWeibull, Shared, log_shape_prior, log_terms, scaled};

/// One group's life: H(t) = level (t / reference)^shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Life {
    /// Failures expected up to the reference distance.
    pub level: f64,
    /// Shape.
    pub shape: f64,
    /// ln of the reference distance.
    pub log_reference: f64,
}

impl Life {
    /// The cumulative hazard gathered between two distances, 0 <= `from` <= `to`, without cancellation over short stretches.
    pub fn hazard_between(&self, from: f64, to: f64) -> f64 {
        if from > 0.0 {
            let start = self.shape * (from.ln() - self.log_reference);
            let stretch = self.shape * (to / from).ln();
            self.level * start.exp() * stretch.exp_m1()
        } else if to > 0.0 {
            self.level * (self.shape * (to.ln() - self.log_reference)).exp()
        } else {
            0.0
        }
    }
}

/// One draw: a life for every group, in their order.
#[derive(Debug, Clone, PartialEq)]
pub struct Draw {
    /// The lives.
    pub lives: Vec<Life>,
}

impl PooledWeibull {
    /// `count` draws. What groups share is drawn systematically (one point in every `count`-th of the posterior), so that a few
    /// hundred draws already follow it closely; the rest at random from `generator`.
    pub fn draws(&self, count: usize, generator: &mut impl Rng) -> Vec<Draw> {
        let start: f64 = generator.random();
        (0..count)
            .map(|i| {
                let at = (i as f64 + start) / count as f64;
                let place = self.shared.partition_point(|point| point.up_to < at);
                let point = self.shared.get(place).or(self.shared.last());
                Draw {
                    lives: point.map_or_else(Vec::new, |point| self.lives(point, generator)),
                }
            })
            .collect()
    }

    fn lives(&self, shared: &Shared, generator: &mut impl Rng) -> Vec<Life> {
        self.groups
            .iter()
            .map(|group| {
                let (_, terms) = scaled(log_terms(group, shared.mean, shared.shape));
                let prior = log_shape_prior(group, shared.middle, shared.spread);
                let weights: Vec<f64> = terms.iter().zip(&prior).map(|(t, p)| t * p).collect();
                let i = pick(&weights, generator.random());
                let node = group.nodes.get(i).map_or(0.0, |node| node.log_shape);
                let offset: f64 = generator.random();
                let log_shape = node + group.half_step() * (2.0 * offset - 1.0);
                let rate = shared.shape / shared.mean + group.exposure_at(i, log_shape);
                Life {
                    level: gamma(shared.shape + group.failures, generator) / rate,
                    shape: log_shape.exp(),
                    log_reference: self.log_reference,
                }
            })
            .collect()
    }
}

/// A standard gamma deviate; the mean for a shape that is none.
fn gamma(shape: f64, generator: &mut impl Rng) -> f64 {
    Gamma::new(shape, 1.0).map_or(shape, |gamma| gamma.sample(generator))
}

/// The place at which the running sum of weights passes the share `at` of all.
fn pick(weights: &[f64], at: f64) -> usize {
    let total: f64 = weights.iter().sum();
    let mut left = at * total;
    for (i, weight) in weights.iter().enumerate() {
        left -= weight;
        if left < 0.0 {
            return i;
        }
    }
    weights.len().saturating_sub(1)
}
