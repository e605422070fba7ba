//! The posterior of what the groups share, as weights on a grid.

use super::group::Group;
use crate::stats::Error;
use crate::stats::lifetime::Observed;
use crate::stats::special::ln_gamma;

/// Shapes in the middle of all groups: 25 from 0.4 to 6, even in the logarithm.
const MIDDLES: usize = 25;
const MIDDLE_RANGE: (f64, f64) = (0.4, 6.0);
/// Standard deviations of ln b between groups.
pub(super) const SPREADS: [f64; 3] = [0.1, 0.2, 0.4];
/// Mean rates: so far apart at the most in the logarithm, and to a factor of e^4 on either side of the pooled one.
const MEAN_STEP: f64 = 0.25;
const MEAN_REACH: f64 = 4.0;
/// Coefficients of variation of rates between groups, with prior weights: the half-normal density of scale 0.6 times the width each
/// stands for.
const VARIATIONS: [(f64, f64); 7] = [
    (0.1, 0.10),
    (0.2, 0.10),
    (0.32, 0.13),
    (0.5, 0.15),
    (0.75, 0.14),
    (1.1, 0.065),
    (1.5, 0.02),
];
/// Weights below this share of the largest are never drawn.
const NEGLIGIBLE: f64 = 1e-9;

/// One point of the grid of what groups share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shared {
    /// ln b.
    pub middle: f64,
    /// tau.
    pub spread: f64,
    /// mu.
    pub mean: f64,
    /// a = 1 / kappa^2.
    pub shape: f64,
    /// Cumulative posterior probability.
    pub up_to: f64,
}

/// The posterior of several groups' lives.
#[derive(Debug, Clone, PartialEq)]
pub struct PooledWeibull {
    pub(super) log_reference: f64,
    pub(super) groups: Vec<Group>,
    pub(super) shared: Vec<Shared>,
}

impl PooledWeibull {
    /// From the lives of each group; a group without lives takes part with nothing but the prior.
    ///
    /// # Errors
    /// [`Error::Input`] when no group has a life under observation, or for lives inspected once.
    pub fn new(groups: &[&Observed]) -> Result<Self, Error> {
        let terms = || groups.iter().flat_map(|group| group.terms());
        if terms().any(|term| term.failed_before > 0.0) {
            return Err(Error::Input {
                name: "groups",
                requirement: "lives must be watched over a distance, not looked at once",
            });
        }
        let ends = |weight: &dyn Fn(f64, f64) -> f64| {
            let (mut sum, mut total) = (0.0, 0.0);
            for term in terms() {
                let w = weight(term.failed, term.survived);
                sum += w * term.log_distance;
                total += w;
            }
            (total > 0.0).then(|| sum / total)
        };
        // Without a failure: where lives ended.
        let log_reference = ends(&|failed, _| failed)
            .or_else(|| ends(&|_, survived| survived.max(0.0)))
            .ok_or(Error::Input {
                name: "groups",
                requirement: "no life was under observation over any distance",
            })?;
        let groups: Vec<Group> = groups
            .iter()
            .map(|observed| Group::new(observed, log_reference))
            .collect();
        let shared = shared(&groups);
        Ok(Self {
            log_reference,
            groups,
            shared,
        })
    }

    /// The reference distance t0.
    pub fn reference(&self) -> f64 {
        self.log_reference.exp()
    }
}

/// ln of the density of node j given mean and variation, without what does not depend on any of them.
pub(super) fn log_terms(group: &Group, mean: f64, shape: f64) -> Vec<f64> {
    let rate = shape / mean;
    let failures = group.failures;
    let constant = shape * rate.ln() + ln_gamma(shape + failures) - ln_gamma(shape);
    group
        .nodes
        .iter()
        .map(|node| node.density + constant - (shape + failures) * (rate + node.exposure).ln())
        .collect()
}

/// The density of ln b at each node, times the node's width.
pub(super) fn log_shape_prior(group: &Group, middle: f64, spread: f64) -> Vec<f64> {
    let width = 2.0 * group.half_step() / (spread * std::f64::consts::TAU.sqrt());
    group
        .nodes
        .iter()
        .map(|node| width * (-0.5 * ((node.log_shape - middle) / spread).powi(2)).exp())
        .collect()
}

fn middles() -> impl Iterator<Item = f64> {
    let (low, high) = (MIDDLE_RANGE.0.ln(), MIDDLE_RANGE.1.ln());
    (0..MIDDLES).map(move |i| low + (high - low) * i as f64 / (MIDDLES - 1) as f64)
}

/// What the middle shape says of the level of all groups.
struct Pooled {
    /// E of each group.
    exposures: Vec<f64>,
    /// Failures, with half a one more, per E of all groups.
    rate: f64,
}

impl Pooled {
    fn new(groups: &[Group], middle: f64) -> Self {
        let failures: f64 = groups.iter().map(|g| g.failures).sum();
        let exposures: Vec<f64> = groups.iter().map(|g| g.exposure_near(middle)).collect();
        let rate = (failures + 0.5) / exposures.iter().sum::<f64>();
        Self { exposures, rate }
    }

    /// ln of Jeffreys' prior density of ln mu given kappa, relative to that at the pooled rate, so that it favours no shape and no kappa.
    /// Counts with mean mu E and variance mu E + (kappa mu E)^2 carry the information sum mu E / (1 + kappa^2 mu E) on ln mu.
    fn log_mean_prior(&self, mean: f64, variation: f64) -> f64 {
        let information = |mean: f64| -> f64 {
            let of_groups = self.exposures.iter().map(|exposure| {
                let expected = mean * exposure;
                expected / (1.0 + variation * variation * expected)
            });
            of_groups.sum()
        };
        0.5 * (information(mean) / information(self.rate)).ln()
    }
}

/// Mean rates, even in the logarithm. The pooled rate up to the reference distance depends on the shape, by a factor of hundreds where
/// lives reach far beyond it, so the grid holds its surroundings under every shape in the middle. It must not be placed at each group's
/// own best shape: a group with few failures or none fits an extreme one.
fn means(pooled: &[Pooled]) -> Vec<f64> {
    let ends = (f64::INFINITY, f64::NEG_INFINITY);
    let (low, high) = pooled.iter().fold(ends, |(low, high), of| {
        let centre = of.rate.ln();
        (low.min(centre), high.max(centre))
    });
    let (low, high) = (low - MEAN_REACH, high + MEAN_REACH);
    let steps = ((high - low) / MEAN_STEP).ceil();
    // A few dozen steps.
    (0..=steps as usize)
        .map(|i| (low + (high - low) * i as f64 / steps).exp())
        .collect()
}

/// A middle and a spread of shapes, with the density of each group's nodes.
struct Shapes {
    /// Of ln b.
    middle: f64,
    /// Of ln b.
    spread: f64,
    /// Place of the middle's [`Pooled`] among all.
    pooled: usize,
    /// By group, then by node.
    of_groups: Vec<Vec<f64>>,
}

fn shapes(groups: &[Group]) -> Vec<Shapes> {
    let pairs = middles()
        .enumerate()
        .flat_map(|(pooled, middle)| SPREADS.map(|spread| (pooled, middle, spread)));
    pairs
        .map(|(pooled, middle, spread)| Shapes {
            middle,
            spread,
            pooled,
            of_groups: groups
                .iter()
                .map(|group| log_shape_prior(group, middle, spread))
                .collect(),
        })
        .collect()
}

fn shared(groups: &[Group]) -> Vec<Shared> {
    let pooled: Vec<Pooled> = middles().map(|m| Pooled::new(groups, m)).collect();
    let shapes = shapes(groups);
    let mut weighted: Vec<(f64, Shared)> = Vec::new();
    for mean in means(&pooled) {
        for (variation, prior) in VARIATIONS {
            let shape = 1.0 / (variation * variation);
            let priors: Vec<f64> = pooled
                .iter()
                .map(|of| f64::ln(prior) + of.log_mean_prior(mean, variation))
                .collect();
            let terms: Vec<(f64, Vec<f64>)> = groups
                .iter()
                .map(|group| scaled(log_terms(group, mean, shape)))
                .collect();
            for of in &shapes {
                let log_weight: f64 = terms
                    .iter()
                    .zip(&of.of_groups)
                    .map(|((top, terms), prior)| {
                        let sum: f64 = terms.iter().zip(prior).map(|(t, p)| t * p).sum();
                        top + sum.ln()
                    })
                    .sum();
                let point = Shared {
                    middle: of.middle,
                    spread: of.spread,
                    mean,
                    shape,
                    up_to: 0.0,
                };
                let prior = priors.get(of.pooled).copied().unwrap_or(0.0);
                weighted.push((log_weight + prior, point));
            }
        }
    }
    cumulate(weighted)
}

/// The largest of the logarithms, and the numbers relative to it.
pub(super) fn scaled(logs: Vec<f64>) -> (f64, Vec<f64>) {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (top, logs.into_iter().map(|log| (log - top).exp()).collect())
}

fn cumulate(weighted: Vec<(f64, Shared)>) -> Vec<Shared> {
    let top = weighted
        .iter()
        .map(|(log, _)| *log)
        .fold(f64::NEG_INFINITY, f64::max);
    let kept: Vec<(f64, Shared)> = weighted
        .into_iter()
        .map(|(log, point)| ((log - top).exp(), point))
        .filter(|(weight, _)| *weight > NEGLIGIBLE)
        .collect();
    let total: f64 = kept.iter().map(|(weight, _)| weight).sum();
    let mut so_far = 0.0;
    kept.into_iter()
        .map(|(weight, point)| {
            so_far += weight / total;
            Shared {
                up_to: so_far,
                ..point
            }
        })
        .collect()
}
