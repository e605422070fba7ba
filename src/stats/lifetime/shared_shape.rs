//! Partial pooling of engine families: one shape for all, a scale for each.
//!
//! A family with two or three failures cannot tell its own shape, and a shape estimated from so few is badly biased upwards.
//! Families that wear by the same mechanism may share it: the scale stays the family's own, the shape is learnt from all
//! together, and a likelihood-ratio test says whether the families with failures enough contradict the sharing (Nelson 1982,
//! section 12.3).

use super::family::Family;
use super::fit::{Fit, fit};
use super::likelihood::{Likelihood, Parameters, likelihood};
use super::observed::Observed;
use super::unfitted::Unfitted;
use crate::stats::special::chi2_sf;

/// Fits of several groups with one shape.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedShape {
    /// ln sigma, shared (Weibull: beta = exp(-ln sigma)).
    pub log_scale: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// The groups in their order; a group without failures has no finite scale and is none: give it `fixed_shape` at the shared
    /// shape.
    pub groups: Vec<Option<Fit>>,
    /// Whether the groups contradict one shape; none with fewer than two groups that can be fitted alone.
    pub equal_shapes: Option<EqualShapes>,
}

/// The likelihood-ratio test of one shape for all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EqualShapes {
    /// Twice the gain in ln L from a shape for each group, among groups that can be fitted alone.
    pub statistic: f64,
    /// Groups fitted alone less one.
    pub degrees_of_freedom: usize,
    /// Chi-square probability of a larger statistic if all share one shape.
    pub p_value: f64,
}

/// Fits one shape and a scale a group by maximum likelihood.
///
/// # Errors
/// [`Unfitted`] when all groups together have fewer than two failures at different distances within one group, or the
/// likelihood has no maximum.
pub fn shared_shape(family: Family, groups: &[&Observed]) -> Result<SharedShape, Unfitted> {
    let pooled = pool(family, groups)?;
    let alone: Vec<(&Observed, Fit)> = groups
        .iter()
        .filter_map(|&group| fit(family, group).ok().map(|fit| (group, fit)))
        .collect();
    let equal_shapes = (alone.len() >= 2)
        .then(|| {
            let chosen: Vec<&Observed> = alone.iter().map(|(group, _)| *group).collect();
            let together = pool_of(family, &chosen)?;
            let apart: f64 = alone.iter().map(|(_, fit)| fit.log_likelihood).sum();
            let statistic = (2.0 * (apart - together.value)).max(0.0);
            let degrees_of_freedom = alone.len() - 1;
            Ok(EqualShapes {
                statistic,
                degrees_of_freedom,
                p_value: chi2_sf(statistic, degrees_of_freedom as f64),
            })
        })
        .transpose()?;
    let variance = -1.0 / pooled.bend;
    let mut tops = pooled.tops.into_iter();
    let fits = groups.iter().map(|group| {
        (group.failures() > 0)
            .then(|| tops.next())
            .flatten()
            .map(|(at, surface)| {
                let [[a, b], _] = surface.hessian;
                let tilt = -b / a;
                Fit {
                    family,
                    parameters: at,
                    covariance: [
                        [-1.0 / a + tilt * tilt * variance, tilt * variance],
                        [tilt * variance, variance],
                    ],
                    log_likelihood: surface.value,
                    failures: group.failures(),
                    lives: group.lives(),
                }
            })
    });
    Ok(SharedShape {
        log_scale: pooled.log_scale,
        standard_error: variance.sqrt(),
        groups: fits.collect(),
        equal_shapes,
    })
}

/// The likelihood of all groups at one shape, each at its best scale.
struct Pooled {
    log_scale: f64,
    value: f64,
    slope: f64,
    bend: f64,
    tops: Vec<(Parameters, Likelihood)>,
}

fn pool(family: Family, groups: &[&Observed]) -> Result<Pooled, Unfitted> {
    let failed = groups.iter().filter(|group| group.failures() > 0);
    pool_of(family, &failed.copied().collect::<Vec<_>>())
}

fn pool_of(family: Family, groups: &[&Observed]) -> Result<Pooled, Unfitted> {
    let distances = groups.iter().map(|group| group.failure_distances()).sum();
    let failures = groups.iter().map(|group| group.failures()).sum();
    if failures < 2 || distances < 2 {
        return Err(Unfitted::TooFewFailures {
            failures,
            distances,
        });
    }
    let starts = [-2.5, -1.5, -1.0, -0.5, 0.0, 0.7];
    let mut here = starts
        .iter()
        .filter_map(|&log_scale| at_shape(family, groups, log_scale))
        .max_by(|a, b| a.value.total_cmp(&b.value))
        .ok_or(Unfitted::NoMaximum)?;
    for _ in 0..100 {
        let step = if here.bend < 0.0 {
            -here.slope / here.bend
        } else {
            here.slope.signum()
        };
        let gain = step * here.slope;
        if here.bend < 0.0 && gain <= 1e-20 {
            return Ok(here);
        }
        let mut step = step.clamp(-1.0, 1.0);
        let mut next = at_shape(family, groups, here.log_scale + step);
        while gain > 1e-9 && next.as_ref().is_none_or(|next| next.value < here.value) {
            step *= 0.5;
            if step.abs() < 1e-12 {
                return Err(Unfitted::NotConverged);
            }
            next = at_shape(family, groups, here.log_scale + step);
        }
        let next = next.ok_or(Unfitted::NoMaximum)?;
        if gain < 1e-9 && next.slope.abs() >= here.slope.abs() {
            // Rounding has taken over.
            return if here.bend < 0.0 && gain < 1e-13 {
                Ok(here)
            } else {
                Err(Unfitted::NotConverged)
            };
        }
        here = next;
        if here.log_scale.abs() > 7.0 {
            return Err(Unfitted::NoMaximum);
        }
    }
    Err(Unfitted::NotConverged)
}

fn at_shape(family: Family, groups: &[&Observed], log_scale: f64) -> Option<Pooled> {
    let mut pooled = Pooled {
        log_scale,
        value: 0.0,
        slope: 0.0,
        bend: 0.0,
        tops: Vec::with_capacity(groups.len()),
    };
    for group in groups {
        let (at, surface) = best_scale(family, group, log_scale)?;
        let [[a, b], [_, c]] = surface.hessian;
        pooled.value += surface.value;
        pooled.slope += surface.gradient[1];
        pooled.bend += c - b * b / a;
        pooled.tops.push((at, surface));
    }
    Some(pooled)
}

/// mu at a given ln sigma, by Newton's method from the scale a Weibull would have (its exact answer).
fn best_scale(
    family: Family,
    observed: &Observed,
    log_scale: f64,
) -> Option<(Parameters, Likelihood)> {
    let sigma = log_scale.exp();
    let failures = (observed.failures() as f64).ln();
    let mut at = Parameters {
        location: sigma * (observed.log_exposure(1.0 / sigma) - failures),
        log_scale,
    };
    let mut surface = likelihood(family, observed, at);
    for _ in 0..100 {
        let (slope, bend) = (surface.gradient[0], surface.hessian[0][0]);
        let mut step = if bend < 0.0 {
            -slope / bend
        } else {
            slope.signum() * sigma
        };
        step = step.clamp(-3.0 * sigma, 3.0 * sigma);
        let gain = step * slope;
        if gain.is_nan() || gain <= 1e-24 || step.abs() <= 1e-15 * at.location.abs() {
            break;
        }
        let mut next = Parameters {
            location: at.location + step,
            log_scale,
        };
        let mut there = likelihood(family, observed, next);
        while step * slope > 1e-9 && there.value < surface.value && step.abs() > 1e-14 {
            step *= 0.5;
            next.location = at.location + step;
            there = likelihood(family, observed, next);
        }
        (at, surface) = (next, there);
    }
    (surface.value.is_finite() && surface.hessian[0][0] < 0.0).then_some((at, surface))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::survival::{Life, RiskTable};

    fn group(scale: f64, failures: usize) -> Observed {
        let lives: Vec<Life> = (0..20)
            .map(|i| {
                let share = (f64::from(i) + 0.5) / 20.0;
                let life = scale * (-(1.0 - share).ln()).powf(1.0 / 2.5);
                Life {
                    entry: if i % 4 == 3 { 0.2 * life } else { 0.0 },
                    exit: life,
                    failed: (i as usize) < failures,
                }
            })
            .collect();
        Observed::from_table(&RiskTable::from_lives(&lives).unwrap().table)
    }

    #[test]
    fn one_group_is_its_own_fit() {
        for family in Family::ALL {
            let lives = group(100.0, 12);
            let alone = fit(family, &lives).unwrap();
            let shared = shared_shape(family, &[&lives]).unwrap();
            let pooled = shared.groups[0].unwrap();
            assert!(
                (pooled.parameters.location / alone.parameters.location - 1.0).abs() < 1e-9,
                "{family:?}"
            );
            assert!(
                (shared.log_scale - alone.parameters.log_scale).abs() < 1e-8,
                "{family:?}"
            );
            for i in 0..2 {
                for j in 0..2 {
                    let (a, b) = (pooled.covariance[i][j], alone.covariance[i][j]);
                    assert!((a / b - 1.0).abs() < 1e-6, "{family:?} {a} {b}");
                }
            }
            assert_eq!(shared.equal_shapes, None);
        }
    }

    #[test]
    fn equal_groups_of_different_scale_share_the_shape_exactly() {
        let alone = fit(Family::Weibull, &group(100.0, 12)).unwrap();
        let shared = shared_shape(
            Family::Weibull,
            &[&group(100.0, 12), &group(700.0, 12), &group(50.0, 0)],
        )
        .unwrap();
        assert!((shared.log_scale - alone.parameters.log_scale).abs() < 1e-8);
        let test = shared.equal_shapes.unwrap();
        assert!(test.statistic < 1e-8 && test.degrees_of_freedom == 1 && test.p_value > 0.999);
        assert_eq!(shared.groups[2], None);
        // Twice the information halves the variance of the shape.
        let ratio = shared.standard_error.powi(2) / alone.covariance[1][1];
        assert!((ratio - 0.5).abs() < 1e-6, "{ratio}");
    }

    #[test]
    fn one_failure_borrows_a_shape() {
        let shared = shared_shape(Family::Weibull, &[&group(100.0, 15), &group(80.0, 1)]).unwrap();
        let small = shared.groups[1].unwrap();
        assert_eq!(small.parameters.log_scale, shared.log_scale);
        assert!(small.quantile(0.1, 0.95).unwrap().wald.lower > 0.0);
    }
}
