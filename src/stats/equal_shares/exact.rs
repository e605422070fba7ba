//! The exact multinomial test: the probability, under the supposed shares, of all tables at least as extreme as the
//! observed one.

use super::network::Network;
use super::ordering::Ordering;
use super::table::Table;
use crate::stats::error::Error;

/// Result of the exact test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exact {
    /// Probability of a table at least as extreme.
    pub p: f64,
    /// Number of possible tables, `C(n + k - 1, k - 1)`; exact up to 2^53.
    pub tables: f64,
    /// Steps taken, the measure of work that the limit is set in.
    pub steps: u64,
}

/// The exact multinomial test of `counts` against `shares`; `None` if it would take more than `limit` steps (a step is
/// about ten nanoseconds and a kept node 16 bytes; then use [`super::monte_carlo`]).
///
/// A table is at least as extreme as the observed one if its statistic is within 1e-7 of the observed one or beyond.
/// Without counts or with one cell `p` is 1.
///
/// # Errors
/// As [`super::chi_square`].
pub fn exact(
    counts: &[u64],
    shares: &[f64],
    ordering: Ordering,
    limit: u64,
) -> Result<Option<Exact>, Error> {
    let table = Table::new(counts, shares)?;
    let tables = number_of_tables(table.total, table.cells());
    if table.cells() == 1 || table.total == 0 {
        return Ok(Some(Exact {
            p: 1.0,
            tables,
            steps: 0,
        }));
    }
    if table.total.saturating_mul(table.cells() as u64) > limit {
        return Ok(None);
    }
    let network = Network::new(&table, ordering);
    Ok(network.walk(limit).map(|(p, steps)| Exact {
        p: p.min(1.0),
        tables,
        steps,
    }))
}

fn number_of_tables(n: u64, cells: usize) -> f64 {
    let mut tables = 1.0;
    for i in 1..cells as u64 {
        // A product of consecutive whole numbers over i!: whole at every step.
        tables = tables * (n + i) as f64 / i as f64;
    }
    tables.round()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::equal_shares::equal;
    use crate::stats::special::ln_factorial;

    /// The slow, obvious twin: every table, its probability and statistic written out.
    fn by_listing(counts: &[u64], shares: &[f64], ordering: Ordering) -> f64 {
        let n: u64 = counts.iter().sum();
        let probability = |table: &[u64]| {
            let parts = table
                .iter()
                .zip(shares)
                .map(|(&x, p): (&u64, &f64)| x as f64 * p.ln() - ln_factorial(x));
            (ln_factorial(n) + parts.sum::<f64>()).exp()
        };
        let statistic = |table: &[u64]| match ordering {
            Ordering::Probability => -probability(table).ln(),
            _ => table
                .iter()
                .zip(shares)
                .map(|(&x, p)| {
                    let (x, e) = (x as f64, n as f64 * p);
                    match ordering {
                        Ordering::ChiSquare => (x - e) * (x - e) / e,
                        _ if x == 0.0 => 0.0,
                        _ => 2.0 * x * (x / e).ln(),
                    }
                })
                .sum(),
        };
        let observed = statistic(counts);
        tables(n, counts.len())
            .iter()
            .filter(|t| statistic(t) >= observed - 1e-7)
            .map(|t| probability(t))
            .sum()
    }

    fn tables(n: u64, cells: usize) -> Vec<Vec<u64>> {
        if cells == 1 {
            return vec![vec![n]];
        }
        let with_first = |first| {
            tables(n - first, cells - 1)
                .into_iter()
                .map(move |rest| [vec![first], rest].concat())
        };
        (0..=n).flat_map(with_first).collect()
    }

    #[test]
    fn agrees_with_listing_every_table() {
        let cases: [(&[u64], &[f64]); 7] = [
            (&[3, 9], &[0.4, 0.6]),
            (&[7, 0, 2], &[0.2, 0.5, 0.3]),
            (&[4, 4, 0], &[1.0 / 3.0; 3]),
            (&[1, 5, 2, 4], &[0.1, 0.2, 0.3, 0.4]),
            (&[0, 6, 2, 4, 1], &[0.2; 5]),
            (&[2, 0, 3, 1, 5], &[0.1, 0.1, 0.3, 0.3, 0.2]),
            (&[2, 1, 0, 0, 1, 4], &[1.0 / 6.0; 6]),
        ];
        for (counts, shares) in cases {
            for ordering in Ordering::ALL {
                let found = exact(counts, shares, ordering, 1_000_000).unwrap().unwrap();
                let want = by_listing(counts, shares, ordering);
                assert!(
                    (found.p / want - 1.0).abs() < 1e-11,
                    "{counts:?} {ordering:?}: {} against {want}",
                    found.p
                );
                assert_eq!(
                    found.tables,
                    tables(counts.iter().sum(), counts.len()).len() as f64
                );
            }
        }
    }

    /// An exact test rejects at most as often as its level says: over all tables, P(p <= a) <= a at every a.
    #[test]
    fn type_one_error_never_exceeds_the_level() {
        for (n, shares) in [
            (9_u64, vec![0.25_f64; 4]),
            (8, vec![0.5, 0.3, 0.2]),
            (14, vec![1.0 / 3.0; 3]),
        ] {
            for ordering in Ordering::ALL {
                let mut all: Vec<(f64, f64)> = tables(n, shares.len())
                    .iter()
                    .map(|table| {
                        let parts = table
                            .iter()
                            .zip(&shares)
                            .map(|(&x, p): (&u64, &f64)| x as f64 * p.ln() - ln_factorial(x));
                        let p = exact(table, &shares, ordering, 1_000_000)
                            .unwrap()
                            .unwrap()
                            .p;
                        (p, (ln_factorial(n) + parts.sum::<f64>()).exp())
                    })
                    .collect();
                all.sort_by(|a, b| a.0.total_cmp(&b.0));
                let mut rejected = 0.0;
                for (i, (p, probability)) in all.iter().enumerate() {
                    rejected += probability;
                    let last_of_ties = all.get(i + 1).is_none_or(|next| next.0 > p * (1.0 + 1e-9));
                    if last_of_ties {
                        // The p-value is the probability of what is at least as extreme: exactly what was summed.
                        assert!(
                            (rejected - p).abs() < 1e-9,
                            "{ordering:?}, n = {n}: {rejected} at {p}"
                        );
                    }
                }
            }
        }
    }

    /// Shifting cells together with their shares changes nothing.
    #[test]
    fn order_of_cells_does_not_matter() {
        let (a, b) = ([12, 3, 30, 7], [30, 12, 7, 3]);
        let (p, q) = ([0.2, 0.1, 0.4, 0.3], [0.4, 0.2, 0.3, 0.1]);
        for ordering in Ordering::ALL {
            let x = exact(&a, &p, ordering, 1_000_000).unwrap().unwrap();
            let y = exact(&b, &q, ordering, 1_000_000).unwrap().unwrap();
            assert!((x.p - y.p).abs() <= 1e-13 * x.p);
        }
    }

    /// A deep tail keeps its digits: all of n counts in one of two equal cells has p = 2 / 2^n (closed form).
    #[test]
    fn deep_tail() {
        let found = exact(&[600, 0], &[0.5, 0.5], Ordering::ChiSquare, 100_000)
            .unwrap()
            .unwrap();
        assert!(
            (found.p / 2.0_f64.powi(-599) - 1.0).abs() < 1e-12,
            "{}",
            found.p
        );
    }

    #[test]
    fn edges_and_bad_input() {
        let run = |counts: &[u64], shares: &[f64]| {
            exact(counts, shares, Ordering::Probability, 1_000_000)
        };
        assert_eq!(run(&[5], &[1.0]).unwrap().unwrap().p, 1.0);
        assert_eq!(run(&[0, 0, 0], &equal(3)).unwrap().unwrap().p, 1.0);
        assert_eq!(run(&[1, 0], &equal(2)).unwrap().unwrap().p, 1.0);
        assert!(run(&[1_000_000_000, 1], &equal(2)).unwrap().is_none());
        assert!(run(&[u64::MAX / 2, 1], &equal(2)).unwrap().is_none());
        for shares in [
            &[0.5, 0.4][..],
            &[1.0, 0.0],
            &[1.0],
            &[f64::NAN, 0.5],
            &[-0.5, 1.5],
        ] {
            assert!(run(&[1, 2], shares).is_err(), "{shares:?}");
        }
        assert!(run(&[], &[]).is_err());
        assert!(run(&[u64::MAX, 1], &equal(2)).is_err());
    }
}
