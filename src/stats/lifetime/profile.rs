//! Where the profile log-likelihood of one quantity has fallen by a given amount.
//!
//! Every quantity is a one-parameter family of curves in the plane of (mu, ln sigma): along each curve the quantity is fixed
//! and the likelihood is maximised; then the quantity moves until the maximum has fallen by z^2 / 2. The signed root of that
//! fall is nearly a straight line in the quantity, so that Newton's method on it needs few steps (Meeker & Escobar 1998,
//! section 8.3). Nearly always both can be sought at once, in a third of the steps (Venzon & Moolgavkar 1988, Appl Stat 37:87).

use super::constraint::{Constraint, Free};
use super::fit::Fit;
use super::likelihood::{Likelihood, likelihood};
use super::observed::Observed;

/// How far, in natural logarithms, a limit is sought from the estimate.
const FARTHEST: f64 = 40.0;

/// Steps after which both at once are given up; three or four are usual.
const MOST_AT_ONCE: usize = 8;

/// A step in standard errors after which the next would change nothing, since Newton's steps leave about their square as error.
const LAST: f64 = 1e-6;

pub(super) struct Profile<'a> {
    pub fit: &'a Fit,
    pub observed: &'a Observed,
    pub constraint: Constraint,
}

/// The likelihood at one place of a curve, with its derivatives: along the curve, by the fixed value, and of the first of these by the
/// value.
struct Place {
    value: f64,
    along: f64,
    bend: f64,
    by_value: f64,
    mixed: f64,
}

impl Place {
    fn new(point: &Free, surface: &Likelihood) -> Self {
        let ([g0, g1], [t0, t1]) = (surface.gradient, point.tangent);
        let ([c0, c1], [v0, v1], [m0, m1]) = (point.curvature, point.by_value, point.turn);
        let [[a, b], [_, c]] = surface.hessian;
        Self {
            value: surface.value,
            along: g0 * t0 + g1 * t1,
            bend: t0 * t0 * a + 2.0 * t0 * t1 * b + t1 * t1 * c + g0 * c0 + g1 * c1,
            by_value: g0 * v0 + g1 * v1,
            mixed: t0 * (a * v0 + b * v1) + t1 * (b * v0 + c * v1) + g0 * m0 + g1 * m1,
        }
    }

    /// How a top moves along the curve as the value grows; not at all where this is no top.
    fn turn(&self) -> f64 {
        if self.bend < 0.0 {
            -self.mixed / self.bend
        } else {
            0.0
        }
    }
}

/// The profile at one value: its likelihood, where on the curve, its slope by the value, and how the place moves with the value.
struct Top {
    value: f64,
    free: f64,
    slope: f64,
    turn: f64,
    /// Whether it is a top. Where the likelihood still rises (the range of the free coordinate ends, or the steps do) the profile is
    /// higher, and has fallen less far.
    settled: bool,
}

impl Profile<'_> {
    /// The limit on one side, -1 or 1; none when the likelihood does not fall far enough.
    pub fn limit(&self, side: f64, deviate: f64) -> Option<f64> {
        self.at_once(side, deviate)
            .or_else(|| self.value_by_value(side, deviate))
    }

    /// The limit and its place on the curve as the solution of two equations: the root of the fall is the deviate, and the likelihood
    /// does not change along the curve. None where that does not lead to a top near the limit of a parabola.
    fn at_once(&self, side: f64, deviate: f64) -> Option<f64> {
        let (estimate, error) = self.constraint.estimate(self.fit);
        let (low, high) = self.constraint.range(self.fit);
        let mut free = self.constraint.free_at(self.fit);
        let mut distance = deviate * error;
        let (nearest, farthest) = (distance / 5.0, distance * 5.0);
        // From the ridge of the parabola.
        let point = self.constraint.point(self.fit, free, estimate)?;
        let top = Place::new(&point, &self.fit.surface());
        free += top.turn() * side * distance;
        for _ in 0..MOST_AT_ONCE {
            let here = self.look(free, estimate + side * distance)?;
            let root = (2.0 * (self.fit.log_likelihood - here.value)).sqrt();
            let (across, out) = (-here.along / root, -side * here.by_value / root);
            let mixed = side * here.mixed;
            let determinant = out * here.bend - across * mixed;
            let miss = deviate - root;
            let step = (miss * here.bend + across * here.along) / determinant;
            let free_step = -(out * here.along + miss * mixed) / determinant;
            distance += step;
            free += free_step;
            let near = nearest < distance && distance < farthest && low < free && free < high;
            if !near || here.bend >= 0.0 {
                return None;
            }
            let small = step.abs() <= LAST * error;
            if small && free_step * free_step * -here.bend <= LAST * LAST {
                return Some(estimate + side * distance);
            }
        }
        None
    }

    /// The limit by the tops at one value after the other. None where the likelihood still rises along the curve of the limit:
    /// it may never fall that far (a lognormal with few failures and late entries tends to a power law as sigma grows).
    fn value_by_value(&self, side: f64, deviate: f64) -> Option<f64> {
        let (estimate, error) = self.constraint.estimate(self.fit);
        // Each top is sought along the ridge from the farthest one inside the limit: from one far outside, where the likelihood is flat,
        // there may be no way back.
        let mut ridge = (0.0, self.constraint.free_at(self.fit), 0.0);
        let (mut inside, mut outside) = (0.0, f64::INFINITY);
        let mut distance = deviate * error;
        for _ in 0..200 {
            let (from, free, turn) = ridge;
            let value = estimate + side * distance;
            let start = free + turn * side * (distance - from);
            let top = self.top(value, start).or_else(|| self.top(value, free))?;
            let root = (2.0 * (self.fit.log_likelihood - top.value))
                .max(0.0)
                .sqrt();
            let miss = deviate - root;
            if miss > 0.0 {
                inside = distance;
                ridge = (distance, top.free, top.turn);
            } else {
                outside = distance;
            }
            let growth = -side * top.slope / root;
            let newton = distance + miss / growth;
            if (newton - distance).abs() <= LAST * error {
                return top.settled.then_some(estimate + side * newton);
            }
            if outside - inside <= 1e-14 * (1.0 + estimate.abs()) {
                return top.settled.then_some(estimate + side * distance);
            }
            distance = if outside.is_finite() {
                if newton > inside && newton < outside {
                    newton
                } else {
                    0.5 * (inside + outside)
                }
            } else if newton > inside {
                newton.min(2.5 * distance)
            } else {
                2.0 * distance
            };
            if inside >= FARTHEST {
                return None;
            }
        }
        None
    }

    /// The maximum along the curve of one value, from a place near it.
    fn top(&self, value: f64, start: f64) -> Option<Top> {
        let (low, high) = self.constraint.range(self.fit);
        let unit = self.constraint.free_unit(value);
        let mut free = start;
        let mut here = self.look(free, value)?;
        let mut settled = false;
        for _ in 0..100 {
            let mut step = if here.bend < 0.0 {
                -here.along / here.bend
            } else {
                here.along.signum() * 0.5 * unit
            };
            step = step.clamp(-1.5 * unit, 1.5 * unit);
            step = (free + step).clamp(low, high) - free;
            let small = here.along * step < 1e-9;
            let mut next = self.look(free + step, value);
            while !small && next.as_ref().is_none_or(|there| there.value < here.value) {
                step *= 0.5;
                if step.abs() < 1e-14 * unit {
                    break;
                }
                next = self.look(free + step, value);
            }
            if here.along * step <= 1e-17 {
                settled = low < free && free < high;
                break;
            }
            here = next?;
            free += step;
        }
        Some(Top {
            value: here.value,
            free,
            slope: here.by_value,
            turn: here.turn(),
            settled,
        })
    }

    /// The likelihood at a place; none where it cannot be computed.
    fn look(&self, free: f64, value: f64) -> Option<Place> {
        let point = self.constraint.point(self.fit, free, value)?;
        let surface = likelihood(self.fit.family, self.observed, point.parameters);
        surface
            .value
            .is_finite()
            .then(|| Place::new(&point, &surface))
    }
}

#[cfg(test)]
mod tests {
    use super::super::family::Family;
    use super::super::fit::fit;
    use super::*;
    use crate::stats::survival::{Life, RiskTable};

    fn observed(lives: u32, one_in: u32) -> Observed {
        let lives: Vec<Life> = (0..lives)
            .map(|i| {
                let spread = |by: u32| f64::from(i.wrapping_mul(by) % 10_007) / 10_007.0;
                let entry = 80.0 * spread(7919);
                Life {
                    entry,
                    exit: entry + 1.0 + 150.0 * spread(104_729),
                    failed: i % one_in == 0,
                }
            })
            .collect();
        Observed::from_table(&RiskTable::from_lives(&lives).unwrap().table)
    }

    #[test]
    fn both_at_once_finds_what_value_by_value_finds() {
        let mut found = 0;
        for (lives, one_in) in [(9, 3), (12, 2), (60, 20), (400, 3), (900, 40)] {
            let observed = observed(lives, one_in);
            for family in Family::ALL {
                let Ok(fit) = fit(family, &observed) else {
                    continue;
                };
                let shares = [0.01, 0.1, 0.5, 0.9].map(|p| family.standard_quantile(p));
                let quantiles = shares.map(|standard| Constraint::Quantile { standard });
                let hazards = [(f64::NEG_INFINITY, 3.0), (3.5, 4.5), (4.5, 4.6)];
                let hazards = hazards.map(|(from, to)| Constraint::Hazard { from, to });
                let all = quantiles
                    .into_iter()
                    .chain(hazards)
                    .chain([Constraint::Scale]);
                for (constraint, side) in all.flat_map(|c| [(c, -1.0), (c, 1.0)]) {
                    let profile = Profile {
                        fit: &fit,
                        observed: &observed,
                        constraint,
                    };
                    let Some(at_once) = profile.at_once(side, 1.96) else {
                        continue;
                    };
                    let slow = profile.value_by_value(side, 1.96).unwrap();
                    let (_, error) = constraint.estimate(&fit);
                    assert!(
                        (at_once - slow).abs() <= 1e-9 * error,
                        "{family:?} {constraint:?} {side}: {at_once} {slow}"
                    );
                    found += 1;
                }
            }
        }
        // Of 240; with three or six failures many are too far from a parabola, and some do not exist.
        assert!(found > 170, "{found}");
    }

    /// The highest likelihood along a curve, looked for everywhere on it.
    fn highest(profile: &Profile<'_>, value: f64) -> f64 {
        let (low, high) = profile.constraint.range(profile.fit);
        let at = |free: f64| {
            let place = profile.look(free, value);
            place.map_or(f64::NEG_INFINITY, |place| place.value)
        };
        let mut step = (high - low) / 1200.0;
        let places = (0..=1200).map(|i| low + step * f64::from(i));
        let mut best = places.max_by(|a, b| at(*a).total_cmp(&at(*b))).unwrap();
        while step > 1e-9 {
            step *= 0.5;
            let around = [best - step, best, best + step].into_iter();
            best = around.max_by(|a, b| at(*a).total_cmp(&at(*b))).unwrap();
        }
        at(best)
    }

    /// With few failures and most lives lost early the estimate lies far beyond the data, where steps from a limit of a parabola once ended
    /// at the estimate itself.
    #[test]
    fn at_a_limit_the_highest_likelihood_has_fallen_by_half_the_squared_deviate() {
        let mut found = [0; 2];
        for (lives, one_in) in [(60, 12), (300, 40), (500, 70), (900, 200)] {
            let observed = observed(lives, one_in);
            for family in Family::ALL {
                let Ok(fit) = fit(family, &observed) else {
                    continue;
                };
                let shares = [0.05, 0.5, 0.9].map(|p| family.standard_quantile(p));
                for constraint in shares.map(|standard| Constraint::Quantile { standard }) {
                    let profile = Profile {
                        fit: &fit,
                        observed: &observed,
                        constraint,
                    };
                    for side in [-1.0, 1.0] {
                        let ways = [
                            profile.at_once(side, 1.96),
                            profile.value_by_value(side, 1.96),
                        ];
                        for (way, found) in ways.into_iter().zip(&mut found) {
                            let Some(limit) = way else {
                                continue;
                            };
                            let fall = fit.log_likelihood - highest(&profile, limit);
                            let label = format!("{lives} {one_in} {constraint:?} {side} {limit}");
                            assert!((fall - 0.5 * 1.96 * 1.96).abs() < 1e-6, "{label}: {fall}");
                            *found += 1;
                        }
                    }
                }
            }
        }
        assert!(found[0] > 5 && found[1] > 30, "{found:?}");
    }

    #[test]
    fn a_limit_that_does_not_exist_is_none() {
        let observed = observed(60, 20);
        let fit = fit(Family::Weibull, &observed).unwrap();
        let profile = Profile {
            fit: &fit,
            observed: &observed,
            constraint: Constraint::Quantile {
                standard: Family::Weibull.standard_quantile(0.1),
            },
        };
        // Three failures do not exclude that a tenth fail at once.
        assert_eq!(profile.limit(-1.0, 1.96), None);
        assert!(profile.limit(1.0, 1.96).is_some());
    }

    /// As sigma grows, Weibull and lognormal of lives that entered late tend to a power law, ln S = -a ln t. Its own likelihood, found apart, tells
    /// how far the profile of sigma can fall.
    #[test]
    fn a_profile_that_tends_to_a_power_law_above_the_fall_has_no_limit() {
        let lives = [(40.0, 50.0), (80.0, 95.0), (100.0, 108.0)];
        let lives = lives.map(|(entry, exit)| Life {
            entry,
            exit,
            failed: true,
        });
        let observed = Observed::from_table(&RiskTable::from_lives(&lives).unwrap().table);
        // a = failures / sum of ln(exit / entry); each failure has a density of a / t times the survival since its entry.
        let logs = lives.map(|life| (life.exit / life.entry).ln());
        let a = 3.0 / logs.iter().sum::<f64>();
        let power_law: f64 = lives.iter().map(|life| (a / life.exit).ln()).sum::<f64>() - 3.0;
        // Twice the fall from the maximum to the power law, computed apart with mpmath 1.3 (30 digits).
        for (family, deviance) in [
            (Family::Weibull, 0.950_694_712),
            (Family::Lognormal, 0.915_694_928),
        ] {
            let fit = fit(family, &observed).unwrap();
            let profile = Profile {
                fit: &fit,
                observed: &observed,
                constraint: Constraint::Scale,
            };
            let fall = fit.log_likelihood - power_law;
            assert!((2.0 * fall - deviance).abs() < 1e-8, "{family:?} {fall}");
            assert_eq!(profile.limit(1.0, 1.96), None, "{family:?}");
            assert!(profile.limit(-1.0, 1.96).is_some());
            // A deviate that the fall does reach has a limit.
            let reached = profile.limit(1.0, 0.9).unwrap();
            assert!((highest(&profile, reached) - fit.log_likelihood + 0.405).abs() < 1e-6);
        }
    }
}
