//! The register of methods; lists elsewhere derive from it.

use super::{bonferroni_clopper_pearson, goodman, sison_glaz};
use crate::stats::error::Error;
use crate::stats::interval::Interval;

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
        id: "sison_glaz",
        title: "Sison-Glaz",
        source: "Sison & Glaz 1995, J Am Stat Assoc 90:366",
        function: sison_glaz,
    },
    Method {
        id: "bonferroni_clopper_pearson",
        title: "Clopper-Pearson, Bonferroni",
        source: "Clopper & Pearson 1934, Biometrika 26:404, each at 1 - (1 - level) / cells",
        function: bonferroni_clopper_pearson,
    },
];

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
