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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::lifetime::{Family, Observed, fit};
    use crate::stats::survival::{Life as Seen, RiskTable};
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    /// Lives of H(t) = (t / 300)^2.5, entered late, with distances times `unit`.
    fn lives(count: u32, unit: f64, seed: u64) -> Observed {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        let lives: Vec<Seen> = (0..count)
            .map(|_| {
                let entry = 100.0 * generator.random::<f64>();
                let exit = entry + 250.0 * generator.random::<f64>();
                let hazard = (entry / 300.0).powf(2.5) - generator.random::<f64>().ln();
                let failure = 300.0 * hazard.powf(0.4);
                Seen {
                    entry: unit * entry,
                    exit: unit * failure.min(exit),
                    failed: failure <= exit,
                }
            })
            .collect();
        Observed::from_table(&RiskTable::from_lives(&lives).unwrap().table)
    }

    fn draws(groups: &[&Observed], count: usize) -> Vec<Draw> {
        let pooled = PooledWeibull::new(groups).unwrap();
        pooled.draws(count, &mut ChaCha8Rng::seed_from_u64(3))
    }

    fn mean_and_sd(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
        let n = values.clone().count() as f64;
        let mean = values.clone().sum::<f64>() / n;
        let square = values.map(|v| (v - mean).powi(2)).sum::<f64>() / n;
        (mean, square.sqrt())
    }

    /// With thousands of failures prior and borrowing no longer matter: the draws are the normal approximation of the likelihood,
    /// whose estimate and covariance come from other code.
    #[test]
    fn many_failures_give_the_likelihoods_own_estimate_and_errors() {
        let observed = lives(12_000, 1.0, 1);
        let fit = fit(Family::Weibull, &observed).unwrap();
        let draws = draws(&[&observed], 2000);
        let shapes = draws.iter().map(|d| d.lives[0].shape.ln());
        let (mean, sd) = mean_and_sd(shapes);
        let error = fit.covariance[1][1].sqrt();
        assert!(
            (mean + fit.parameters.log_scale).abs() < 0.15 * error,
            "{mean}"
        );
        assert!((sd / error - 1.0).abs() < 0.08, "{sd} {error}");
        let hazards = draws
            .iter()
            .map(|d| d.lives[0].hazard_between(150.0, 200.0));
        let (mean, sd) = mean_and_sd(hazards);
        let estimate = fit
            .failure_probability_estimate(150.0, 200.0, 0.95)
            .unwrap();
        let survived = 1.0 - estimate.value;
        let (hazard, error) = (-survived.ln(), estimate.standard_error / survived);
        assert!((mean - hazard).abs() < 0.15 * error, "{mean} {hazard}");
        assert!((sd / error - 1.0).abs() < 0.08, "{sd} {error}");
    }

    #[test]
    fn a_change_of_the_unit_of_distance_changes_nothing() {
        let (km, m) = (lives(300, 1.0, 2), lives(300, 1000.0, 2));
        let (a, b) = (draws(&[&km], 50), draws(&[&m], 50));
        for (a, b) in a.iter().zip(&b) {
            let (a, b) = (&a.lives[0], &b.lives[0]);
            let ratio = a.hazard_between(50.0, 90.0) / b.hazard_between(50_000.0, 90_000.0);
            assert!((ratio - 1.0).abs() < 1e-6, "{ratio}");
        }
    }

    #[test]
    fn groups_without_failures_or_records_borrow_and_stay_wide() {
        let (large, small) = (lives(3000, 1.0, 4), lives(3, 1.0, 5));
        let nothing = Observed::from_table(&RiskTable::default());
        let draws = draws(&[&large, &small, &nothing], 2000);
        let spread = |group: usize| {
            let logs = draws
                .iter()
                .map(|d| d.lives[group].hazard_between(100.0, 120.0).ln());
            mean_and_sd(logs)
        };
        let (own, few, none) = (spread(0), spread(1), spread(2));
        assert!(own.1 < 0.1 && few.1 > 3.0 * own.1 && none.1 > 3.0 * own.1);
        assert!((none.0 - own.0).abs() < none.1, "{none:?} {own:?}");
    }

    /// Three failures in one group, none in four with lives far beyond them. If shapes and rates were known to be alike, the hazard of all
    /// over the distance watched would be gamma with the failures and a half as its shape (Jeffreys' prior of a Poisson mean;
    /// Gelman et al. 2013, section 2.8). Not knowing them hardly changes that.
    #[test]
    fn few_failures_and_far_lives_leave_the_level_where_the_failures_put_it() {
        let seen = |exit: f64, failed: bool| Seen {
            entry: 0.0,
            exit,
            failed,
        };
        let table =
            |lives: &[Seen]| Observed::from_table(&RiskTable::from_lives(lives).unwrap().table);
        let failed = [90.0, 100.0, 110.0].map(|exit| seen(exit, true));
        let sound: Vec<Seen> = (0..15).map(|_| seen(350.0, false)).collect();
        let own = table(&[failed.as_slice(), sound.as_slice()].concat());
        let other = table(&sound);
        let draws = draws(&[&own, &other, &other, &other, &other], 4000);
        // What is expected of all lives over the distance they were watched.
        let expected = |draw: &Draw| -> f64 {
            let first = draw.lives.first().unwrap();
            let short = failed.iter().map(|f| first.hazard_between(0.0, f.exit));
            let long = draw.lives.iter().map(|l| l.hazard_between(0.0, 350.0));
            short.sum::<f64>() + 15.0 * long.sum::<f64>()
        };
        let mut sums: Vec<f64> = draws.iter().map(expected).collect();
        sums.sort_by(f64::total_cmp);
        // R 4: qgamma(c(0.1, 0.5, 0.9), 3.5)
        for (rank, wanted) in [(400, 1.416_554), (2000, 3.172_906), (3600, 6.008_518)] {
            let found: f64 = sums[rank];
            assert!((found / wanted - 1.0).abs() < 0.08, "{found} {wanted}");
        }
    }

    #[test]
    fn nothing_failed_is_a_bound_and_no_record_is_refused() {
        let sound: Vec<Seen> = (0..50)
            .map(|i| Seen {
                entry: f64::from(i),
                exit: f64::from(100 + i),
                failed: false,
            })
            .collect();
        let sound = Observed::from_table(&RiskTable::from_lives(&sound).unwrap().table);
        let draws = draws(&[&sound], 1000);
        let mut hazards: Vec<f64> = draws
            .iter()
            .map(|d| d.lives[0].hazard_between(100.0, 110.0))
            .collect();
        hazards.sort_by(f64::total_cmp);
        // 0 in 50 lives: the exact 95 % bound of the count is 3.0 (Garwood), of such a stretch a fraction of 3 / 50.
        assert!(
            hazards[0] > 0.0 && hazards[974] < 3.0 / 50.0,
            "{}",
            hazards[974]
        );
        let nothing = Observed::from_table(&RiskTable::default());
        assert!(PooledWeibull::new(&[&nothing]).is_err());
    }

    #[test]
    fn hazards_add_up_along_the_way() {
        let life = Life {
            level: 0.3,
            shape: 2.2,
            log_reference: 5.0,
        };
        let sum = life.hazard_between(0.0, 70.0) + life.hazard_between(70.0, 200.0);
        assert!((sum / life.hazard_between(0.0, 200.0) - 1.0).abs() < 1e-14);
        assert_eq!(life.hazard_between(0.0, 0.0), 0.0);
    }
}
