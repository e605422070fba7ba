//! Simultaneous intervals for the shares of several cells that make up a whole.
//!
//! An interval for one share at 95 % says nothing about all shares of a set at once: with eight cells, one of the eight
//! 95 % intervals misses its share in up to a third of all samples. The intervals here hold together, each set as a
//! whole at the stated level.
//!
//! With a single cell its share is 1 by definition, whatever was counted; without any count every share from 0 to 1 is
//! possible.

use super::error::Error;
use super::interval::{Interval, outside};
use super::proportion::clopper_pearson;
use super::special::{chi2_isf, poisson_pmf};

/// A simultaneous method: counts by cell and the level in, one interval a cell out.
pub type Function = fn(&[u64], f64) -> Result<Vec<Interval>, Error>;

/// One method of the registry [`METHODS`].
#[derive(Debug, Clone, Copy)]
pub struct Method {
    /// Stable id, as in options and answers.
    pub id: &'static str,
    /// Name for headings.
    pub title: &'static str,
    /// Author and year.
    pub source: &'static str,
    /// The method.
    pub function: Function,
}

/// Every simultaneous method.
pub const METHODS: &[Method] = &[
    Method {
        id: "goodman",
        title: "Goodman",
        source: "Goodman 1965, Technometrics 7:247",
        function: goodman,
    },
    Method {
        id: "sison-glaz",
        title: "Sison-Glaz",
        source: "Sison & Glaz 1995, J Am Stat Assoc 90:366",
        function: sison_glaz,
    },
    Method {
        id: "bonferroni-clopper-pearson",
        title: "Clopper-Pearson, Bonferroni",
        source: "Clopper & Pearson 1934, Biometrika 26:404, each at 1 - (1 - level) / cells",
        function: bonferroni_clopper_pearson,
    },
];

/// Goodman's simultaneous score intervals.
///
/// The roots in `pi` of `n (p - pi)^2 = A pi (1 - pi)`, `p` the observed share of the cell, `n` the sum of all counts
/// and `A` the upper `(1 - level) / k` point of chi-square with 1 degree of freedom, `k` the number of cells
/// (Goodman 1965, Technometrics 7:247, the Bonferroni form of his section 2). Approximate: for few counts use
/// [`bonferroni_clopper_pearson`].
///
/// # Errors
/// No cell, or a level outside (0, 1).
pub fn goodman(counts: &[u64], level: f64) -> Result<Vec<Interval>, Error> {
    let n = match total(counts, level)? {
        Total::Known(n) => n as f64,
        Total::Trivial(intervals) => return Ok(intervals),
    };
    let a = chi2_isf(outside(level)? / counts.len() as f64, 1.0);
    Ok(counts
        .iter()
        .map(|&x| score_interval(x as f64, n, a))
        .collect())
}

/// The smaller root as product over the larger one, so that it is exactly 0 at `x = 0` and loses no digits near it.
fn score_interval(x: f64, n: f64, a: f64) -> Interval {
    let root = (a * (a + 4.0 * x * ((n - x) / n))).sqrt();
    let upper = ((a + 2.0 * x + root) / (2.0 * (n + a))).min(1.0);
    Interval {
        lower: x * (x / n) / ((n + a) * upper),
        upper,
    }
}

/// Clopper-Pearson intervals at `1 - (1 - level) / k` each: never below the stated level, often above.
///
/// # Errors
/// No cell, or a level outside (0, 1).
pub fn bonferroni_clopper_pearson(counts: &[u64], level: f64) -> Result<Vec<Interval>, Error> {
    let n = match total(counts, level)? {
        Total::Known(n) => n,
        Total::Trivial(intervals) => return Ok(intervals),
    };
    let each = 1.0 - outside(level)? / counts.len() as f64;
    counts
        .iter()
        .map(|&x| clopper_pearson(x, n, each))
        .collect()
}

/// Sison and Glaz's simultaneous intervals, `[p - c/n, p + (c + 2 gamma)/n]` cut at 0 and 1.
///
/// `c` is the largest whole number for which the probability that every multinomial count lies within `c` of its
/// expectation stays below the level; `gamma` interpolates between `c` and `c + 1`. The probability is that of
/// independent Poisson counts given their sum, with truncated-Poisson moments in an Edgeworth expansion (Levin 1981,
/// Ann Stat 9:1123; Sison & Glaz 1995, J Am Stat Assoc 90:366, eq. 2.1-2.4). The Edgeworth term is an approximation that
/// is too narrow for few counts: with 30 or 60 counts in three cells the 95 % set covers 89 to 93 % by enumeration (this
/// file's tests). Below some hundreds of counts [`goodman`] or [`bonferroni_clopper_pearson`] is to be preferred.
///
/// # Errors
/// No cell, or a level outside (0, 1).
pub fn sison_glaz(counts: &[u64], level: f64) -> Result<Vec<Interval>, Error> {
    let n = match total(counts, level)? {
        Total::Known(n) => n,
        Total::Trivial(intervals) => return Ok(intervals),
    };
    let Some(width) = sison_glaz_width(counts, n, level) else {
        return Ok(vec![
            Interval {
                lower: 0.0,
                upper: 1.0
            };
            counts.len()
        ]);
    };
    let n = n as f64;
    Ok(counts
        .iter()
        .map(|&x| {
            let x = x as f64;
            Interval {
                lower: ((x - width.c) / n).max(0.0),
                upper: ((x + width.c + 2.0 * width.gamma) / n).min(1.0),
            }
        })
        .collect())
}

struct Width {
    c: f64,
    gamma: f64,
}

/// Finds the step of the coverage function that crosses the level: steps of doubling width, then bisection. `None` if
/// the whole range `c = n` does not reach the level.
fn sison_glaz_width(counts: &[u64], n: u64, level: f64) -> Option<Width> {
    let (mut low, mut low_value, mut high) = (0_u64, 0.0, 1_u64);
    let mut high_value = coverage(counts, n, high);
    while high_value <= level {
        if high >= n {
            return None;
        }
        (low, low_value) = (high, high_value);
        high = high.saturating_mul(2).min(n);
        high_value = coverage(counts, n, high);
    }
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        let value = coverage(counts, n, middle);
        if value > level {
            (high, high_value) = (middle, value);
        } else {
            (low, low_value) = (middle, value);
        }
    }
    Some(Width {
        c: low as f64,
        gamma: (level - low_value) / (high_value - low_value),
    })
}

/// Probability that every cell's count lies within `c` of `counts`, by the Edgeworth expansion.
fn coverage(counts: &[u64], n: u64, c: u64) -> f64 {
    let cells: Vec<Truncated> = counts.iter().map(|&x| Truncated::poisson(x, c)).collect();
    let sum = |f: fn(&Truncated) -> f64| cells.iter().map(f).sum::<f64>();
    let variance = sum(|m| m.variance);
    let skewness = sum(|m| m.third) / variance.powf(1.5);
    let excess = sum(|m| m.fourth - 3.0 * m.variance * m.variance) / (variance * variance);
    let z = -sum(|m| m.shift) / variance.sqrt();
    let z2 = z * z;
    let polynomial = 1.0
        + skewness * z * (z2 - 3.0) / 6.0
        + excess * (z2 * z2 - 6.0 * z2 + 3.0) / 24.0
        + skewness * skewness * (z2 * z2 * z2 - 15.0 * z2 * z2 + 45.0 * z2 - 15.0) / 72.0;
    let density = polynomial * (-z2 / 2.0).exp() / (std::f64::consts::TAU * variance).sqrt();
    let probability: f64 = cells.iter().map(|m| m.probability).product();
    probability * density / poisson_pmf(n, n as f64)
}

/// A Poisson count of mean `x`, kept within `c` of `x`: its probability of being there, mean less `x`, and central moments.
struct Truncated {
    probability: f64,
    shift: f64,
    variance: f64,
    third: f64,
    fourth: f64,
}

impl Truncated {
    /// Sums outwards from the mode. The closed forms subtract terms of the size of `x^4` from each other; these sums do
    /// not, and a term too small to matter ends them.
    fn poisson(x: u64, c: u64) -> Self {
        let mean = x as f64;
        let mut moments = [1.0, 0.0, 0.0, 0.0, 0.0];
        let mut add = |offset: f64, weight: f64| {
            let mut term = weight;
            for m in &mut moments {
                *m += term;
                term *= offset;
            }
        };
        let mut weight = 1.0;
        for step in 1..=c.min(x) {
            weight *= (mean - step as f64 + 1.0) / mean;
            add(-(step as f64), weight);
            if weight < 1e-40 {
                break;
            }
        }
        weight = 1.0;
        for step in 1..=c {
            weight *= mean / (mean + step as f64);
            add(step as f64, weight);
            if weight < 1e-40 {
                break;
            }
        }
        let [m0, m1, m2, m3, m4] = moments;
        let (d, m2, m3, m4) = (m1 / m0, m2 / m0, m3 / m0, m4 / m0);
        Self {
            probability: poisson_pmf(x, mean) * m0,
            shift: d,
            variance: m2 - d * d,
            third: m3 - 3.0 * d * m2 + 2.0 * d * d * d,
            fourth: m4 - 4.0 * d * m3 + 6.0 * d * d * m2 - 3.0 * d * d * d * d,
        }
    }
}

enum Total {
    Known(u64),
    Trivial(Vec<Interval>),
}

fn total(counts: &[u64], level: f64) -> Result<Total, Error> {
    outside(level)?;
    match counts {
        [] => Err(Error::Input {
            name: "counts",
            requirement: "must hold at least one cell",
        }),
        [_] => Ok(Total::Trivial(vec![Interval {
            lower: 1.0,
            upper: 1.0,
        }])),
        _ => match counts.iter().try_fold(0_u64, |sum, &x| sum.checked_add(x)) {
            None => Err(Error::Input {
                name: "counts",
                requirement: "their sum must fit 64 bits",
            }),
            Some(0) => Ok(Total::Trivial(vec![
                Interval {
                    lower: 0.0,
                    upper: 1.0
                };
                counts.len()
            ])),
            Some(n) => Ok(Total::Known(n)),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::special::ln_factorial;

    /// Share of all tables of `n` counts under `shares` whose intervals all hold, by listing every table.
    fn coverage_of(function: Function, n: u64, shares: [f64; 3]) -> f64 {
        let mut held = 0.0;
        for a in 0..=n {
            for b in 0..=n - a {
                let counts = [a, b, n - a - b];
                let intervals = function(&counts, 0.95).unwrap();
                if intervals
                    .iter()
                    .zip(shares)
                    .all(|(i, p)| i.lower <= p && p <= i.upper)
                {
                    let parts = counts
                        .iter()
                        .zip(shares)
                        .map(|(&x, p)| x as f64 * p.ln() - ln_factorial(x));
                    held += (ln_factorial(n) + parts.sum::<f64>()).exp();
                }
            }
        }
        held
    }

    const SHARES: [[f64; 3]; 4] = [
        [1.0 / 3.0; 3],
        [0.5, 0.3, 0.2],
        [0.7, 0.2, 0.1],
        [0.9, 0.07, 0.03],
    ];

    #[test]
    fn bonferroni_clopper_pearson_covers_whatever_the_shares() {
        for shares in SHARES {
            for n in [1, 5, 20, 45] {
                let held = coverage_of(bonferroni_clopper_pearson, n, shares);
                assert!(held >= 0.95, "{n} counts, {shares:?}: {held}");
            }
        }
    }

    /// Approximate methods: near the level where every cell expects several counts. The bounds are what enumeration gave.
    #[test]
    fn approximate_methods_cover_where_counts_are_not_few() {
        for shares in &SHARES[..3] {
            for n in [30, 60] {
                let (g, s) = (
                    coverage_of(goodman, n, *shares),
                    coverage_of(sison_glaz, n, *shares),
                );
                assert!(g > 0.93, "Goodman, {n} counts, {shares:?}: {g}");
                assert!(s > 0.88, "Sison-Glaz, {n} counts, {shares:?}: {s}");
            }
        }
    }

    /// The step found by doubling and bisection is the first one that crosses the level, as a plain search finds it.
    #[test]
    fn sison_glaz_width_is_the_first_crossing() {
        for counts in [
            &[56_u64, 72, 73, 59, 62, 87, 58][..],
            &[3, 0, 9, 1],
            &[40, 1, 1],
            &[5, 5],
            &[0, 0, 12],
            &[900, 3000],
        ] {
            let n = counts.iter().sum();
            let found = sison_glaz_width(counts, n, 0.95).unwrap();
            let mut c = 0;
            let mut old = 0.0;
            let new = loop {
                let new = coverage(counts, n, c + 1);
                if new > 0.95 {
                    break new;
                }
                (old, c) = (new, c + 1);
            };
            assert_eq!(found.c, c as f64, "{counts:?}");
            assert_eq!(found.gamma, (0.95 - old) / (new - old), "{counts:?}");
        }
    }

    #[test]
    fn edges() {
        for method in METHODS {
            let run = |counts: &[u64]| (method.function)(counts, 0.95).unwrap();
            assert_eq!(
                run(&[7]),
                [Interval {
                    lower: 1.0,
                    upper: 1.0
                }],
                "{}",
                method.id
            );
            assert_eq!(
                run(&[0, 0]),
                [Interval {
                    lower: 0.0,
                    upper: 1.0
                }; 2],
                "{}",
                method.id
            );
            let zero = run(&[0, 20, 30]);
            assert_eq!(zero[0].lower, 0.0, "{}", method.id);
            assert!(
                zero[0].upper > 0.05 && zero[0].upper < 0.25,
                "{}: {zero:?}",
                method.id
            );
            let all = run(&[25, 0]);
            assert!(
                all[0].upper == 1.0 && all[1].lower == 0.0,
                "{}: {all:?}",
                method.id
            );
            assert!((method.function)(&[], 0.95).is_err());
            assert!((method.function)(&[u64::MAX, 1], 0.95).is_err());
            for level in [0.0, 1.0, f64::NAN] {
                assert!((method.function)(&[1, 2], level).is_err());
            }
        }
    }

    /// At a thousand million counts all three agree with the normal limit: half-width `z sqrt(p q / n)`.
    #[test]
    fn huge_counts() {
        let counts = [400_000_000, 300_000_000, 200_000_000, 100_000_000];
        for method in METHODS {
            let intervals = (method.function)(&counts, 0.95).unwrap();
            let half =
                (intervals[0].upper - intervals[0].lower) / 2.0 / (0.4_f64 * 0.6 / 1e9).sqrt();
            assert!((2.1..2.6).contains(&half), "{}: {half}", method.id);
            assert!(intervals[0].lower < 0.4 && intervals[0].upper > 0.4);
        }
    }
}
