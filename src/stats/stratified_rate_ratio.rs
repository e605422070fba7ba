//! The ratio of two Poisson rates that is the same in every stratum, exact given the events of each stratum.
//!
//! Given the m_k events of stratum k, those of the first group are binomial with odds R t1_k / t2_k. Their sum over strata is a
//! sum of such binomials, whose distribution is found by convolution; limits for R put one tail of it at (1 - level) / 2, as
//! Clopper and Pearson do for one stratum (Rothman & Greenland 1998, Modern Epidemiology, ch. 15; Breslow & Day 1987, vol. II,
//! section 3.6). With one stratum this is [`super::rate_ratio::exact`].

use super::bracketed_root::bracketed_root;
use super::error::Error;
use super::interval::tail;
use super::special::{UnitPoint, binomial_pmf_at};

/// Probabilities below this are dropped at both ends of a distribution, far beyond what a limit can see.
const NEGLIGIBLE: f64 = 1e-40;

/// Largest |ln R| looked at; a limit beyond it is said to be absent.
const FARTHEST: f64 = 60.0;

/// Events and exposure of the two groups in one stratum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stratum {
    /// Events of the first group.
    pub x1: u64,
    /// Exposure of the first group, > 0.
    pub t1: f64,
    /// Events of the second group.
    pub x2: u64,
    /// Exposure of the second group, > 0, in the same unit.
    pub t2: f64,
}

/// The common ratio, first rate over second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CommonRatio {
    /// Conditional maximum likelihood; `None` where the second group has no event in a stratum that counts, 0 where the first has
    /// none.
    pub ratio: Option<f64>,
    /// Lower limit; 0 where the first group has no event.
    pub lower: f64,
    /// Upper limit; `None` where the second group has no event.
    pub upper: Option<f64>,
    /// Twice the smaller exact tail at R = 1, at most 1.
    pub p_central: f64,
    /// Events of the first group expected at R = 1, given the events of each stratum.
    pub expected: f64,
}

/// The common ratio over strata with the central exact interval. Strata without an event say nothing and may be given.
///
/// # Errors
/// [`Error::Parameter`] for an exposure that is not positive and finite, [`Error::Level`].
pub fn exact(strata: &[Stratum], level: f64) -> Result<CommonRatio, Error> {
    let tail = tail(level)?;
    for stratum in strata {
        for (name, t) in [("t1", stratum.t1), ("t2", stratum.t2)] {
            if !(t > 0.0 && t.is_finite()) {
                return Err(Error::Parameter {
                    name,
                    value: t,
                    requirement: "exposure must be positive and finite",
                });
            }
        }
    }
    let x: u64 = strata.iter().map(|s| s.x1).sum();
    let m: u64 = strata.iter().map(|s| s.x1 + s.x2).sum();
    let expected = mean(strata, 0.0);
    if m == 0 {
        return Ok(CommonRatio {
            ratio: None,
            lower: 0.0,
            upper: None,
            p_central: 1.0,
            expected,
        });
    }
    // Half an event away from the ends, so that there is a place around which to spread the distribution.
    let aim = (x as f64).clamp(0.5, m as f64 - 0.5);
    let centre = bracketed_root("rate ratio", -FARTHEST, FARTHEST, |log| {
        mean(strata, log) - aim
    })?;
    let law = Law::new(strata, centre);
    let ratio = match x {
        0 => Some(0.0),
        _ if x == m => None,
        _ => Some(centre.exp()),
    };
    let lower = match x {
        0 => 0.0,
        _ => root(|log| law.at_least(x, log) - tail)?.map_or(0.0, f64::exp),
    };
    let upper = match x == m {
        true => None,
        false => root(|log| tail - law.at_most(x, log))?.map(f64::exp),
    };
    Ok(CommonRatio {
        ratio,
        lower,
        upper,
        p_central: (2.0 * law.at_least(x, 0.0).min(law.at_most(x, 0.0))).min(1.0),
        expected,
    })
}

/// Mean events of the first group at a log ratio.
fn mean(strata: &[Stratum], log: f64) -> f64 {
    let shares = strata
        .iter()
        .map(|s| (s.x1 + s.x2) as f64 * share(s, log).x);
    shares.sum()
}

fn share(stratum: &Stratum, log: f64) -> UnitPoint {
    UnitPoint::from_log_odds(log + (stratum.t1 / stratum.t2).ln())
}

/// The zero of an increasing function of the log ratio, if it lies within what is looked at.
fn root(f: impl Fn(f64) -> f64) -> Result<Option<f64>, Error> {
    if f(-FARTHEST) > 0.0 || f(FARTHEST) < 0.0 {
        return Ok(None);
    }
    bracketed_root("rate ratio", -FARTHEST, FARTHEST, f).map(Some)
}

/// The distribution of the sum at one log ratio; at another one every count j gains the factor (R / R0)^j.
struct Law {
    centre: f64,
    /// Count of the first probability.
    start: u64,
    logs: Vec<f64>,
}

impl Law {
    fn new(strata: &[Stratum], centre: f64) -> Self {
        let (mut start, mut sum) = (0, vec![1.0]);
        for stratum in strata.iter().filter(|s| s.x1 + s.x2 > 0) {
            let (first, part) = binomial(stratum.x1 + stratum.x2, share(stratum, centre));
            sum = convolve(&sum, &part);
            start += first;
            start += trim(&mut sum);
        }
        Self {
            centre,
            start,
            logs: sum.into_iter().map(f64::ln).collect(),
        }
    }

    fn weights(&self, log: f64) -> Vec<f64> {
        let tilted: Vec<f64> = self
            .logs
            .iter()
            .enumerate()
            .map(|(j, l)| l + (log - self.centre) * j as f64)
            .collect();
        let most = tilted.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        tilted.into_iter().map(|t| (t - most).exp()).collect()
    }

    fn at_least(&self, x: u64, log: f64) -> f64 {
        let weights = self.weights(log);
        let from = usize::try_from(x.saturating_sub(self.start)).unwrap_or(usize::MAX);
        weights.iter().skip(from).sum::<f64>() / weights.iter().sum::<f64>()
    }

    fn at_most(&self, x: u64, log: f64) -> f64 {
        let weights = self.weights(log);
        let through = usize::try_from((x + 1).saturating_sub(self.start)).unwrap_or(usize::MAX);
        weights.iter().take(through).sum::<f64>() / weights.iter().sum::<f64>()
    }
}

/// Binomial probabilities that are not negligible, with the count of the first: outwards from the mode.
fn binomial(m: u64, p: UnitPoint) -> (u64, Vec<f64>) {
    let mode = ((m as f64 + 1.0) * p.x).floor().min(m as f64) as u64;
    let matters = |k: &u64| binomial_pmf_at(*k, m, p) > NEGLIGIBLE;
    let first = (0..mode).rev().take_while(matters).last().unwrap_or(mode);
    let last = (mode + 1..=m).take_while(matters).last().unwrap_or(mode);
    (
        first,
        (first..=last).map(|k| binomial_pmf_at(k, m, p)).collect(),
    )
}

fn convolve(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; (a.len() + b.len()).saturating_sub(1)];
    for (i, x) in a.iter().enumerate() {
        for (slot, y) in out.iter_mut().skip(i).zip(b) {
            *slot += x * y;
        }
    }
    out
}

/// Drops negligible ends; gives how many went at the front.
fn trim(law: &mut Vec<f64>) -> u64 {
    let front = law.iter().take_while(|p| **p <= NEGLIGIBLE).count();
    let back = law.iter().rev().take_while(|p| **p <= NEGLIGIBLE).count();
    if front + back >= law.len() {
        return 0;
    }
    law.truncate(law.len() - back);
    law.drain(..front);
    front as u64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::rate_ratio;

    fn close(a: f64, b: f64, tolerance: f64) -> bool {
        (a - b).abs() <= tolerance * a.abs().max(b.abs())
    }

    #[test]
    fn one_stratum_and_strata_of_one_ratio_of_exposures_are_the_exact_rate_ratio() {
        for (x1, x2) in [(41, 15), (0, 4), (3, 0), (1, 1), (500, 20_000)] {
            let wanted = rate_ratio::exact(x1, 28_010.0, x2, 19_017.0, 0.95).unwrap();
            let whole = [Stratum {
                x1,
                t1: 28_010.0,
                x2,
                t2: 19_017.0,
            }];
            let split = [
                Stratum {
                    x1: x1 / 3,
                    t1: 2_801.0,
                    x2: x2 - x2 / 4,
                    t2: 1_901.7,
                },
                Stratum {
                    x1: x1 - x1 / 3,
                    t1: 5_602.0,
                    x2: x2 / 4,
                    t2: 3_803.4,
                },
            ];
            for strata in [&whole[..], &split[..]] {
                let got = exact(strata, 0.95).unwrap();
                assert!(close(got.lower, wanted.lower, 1e-9), "{got:?} {wanted:?}");
                match (got.upper, wanted.upper) {
                    (Some(a), Some(b)) => assert!(close(a, b, 1e-9), "{got:?} {wanted:?}"),
                    (a, b) => assert_eq!(a, b),
                }
                assert!(
                    close(got.p_central, wanted.p_central, 1e-8),
                    "{got:?} {wanted:?}"
                );
                if x1 > 0 && x2 > 0 {
                    assert!(close(got.ratio.unwrap(), wanted.ratio.unwrap(), 1e-9));
                }
            }
        }
    }

    #[test]
    fn limits_put_back_leave_the_tail_counted_one_by_one() {
        let strata = [
            Stratum {
                x1: 2,
                t1: 1.5,
                x2: 9,
                t2: 20.0,
            },
            Stratum {
                x1: 4,
                t1: 3.0,
                x2: 5,
                t2: 11.0,
            },
            Stratum {
                x1: 1,
                t1: 0.7,
                x2: 12,
                t2: 6.0,
            },
        ];
        let got = exact(&strata, 0.9).unwrap();
        // Every split of every stratum, written out.
        let tail = |ratio: f64, keep: &dyn Fn(u64) -> bool| {
            let mut sum = 0.0;
            for a in 0..=11u64 {
                for b in 0..=9u64 {
                    for c in 0..=13u64 {
                        if keep(a + b + c) {
                            let of = |x: u64, s: &Stratum| {
                                let p = ratio * s.t1 / (ratio * s.t1 + s.t2);
                                crate::stats::special::binomial_pmf(x, s.x1 + s.x2, p)
                            };
                            sum += of(a, &strata[0]) * of(b, &strata[1]) * of(c, &strata[2]);
                        }
                    }
                }
            }
            sum
        };
        assert!(close(tail(got.lower, &|s| s >= 7), 0.05, 1e-9), "{got:?}");
        assert!(
            close(tail(got.upper.unwrap(), &|s| s <= 7), 0.05, 1e-9),
            "{got:?}"
        );
        assert!(got.lower < got.ratio.unwrap() && got.ratio.unwrap() < got.upper.unwrap());
    }

    #[test]
    fn many_events_return_at_once_and_nothing_at_all_says_so() {
        let strata: Vec<Stratum> = (1..60)
            .map(|k| Stratum {
                x1: 40 * k,
                t1: 1.0,
                x2: 4_000 * k,
                t2: 150.0,
            })
            .collect();
        let got = exact(&strata, 0.95).unwrap();
        assert!(close(got.ratio.unwrap(), 1.5, 1e-9), "{got:?}");
        assert!(got.lower > 1.48 && got.upper.unwrap() < 1.52, "{got:?}");
        let none = exact(
            &[Stratum {
                x1: 0,
                t1: 1.0,
                x2: 0,
                t2: 1.0,
            }],
            0.95,
        )
        .unwrap();
        assert_eq!(
            (none.ratio, none.lower, none.upper, none.p_central),
            (None, 0.0, None, 1.0)
        );
        assert!(
            exact(
                &[Stratum {
                    x1: 0,
                    t1: 0.0,
                    x2: 0,
                    t2: 1.0
                }],
                0.95
            )
            .is_err()
        );
    }
}
