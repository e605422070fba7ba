//! The multinomial test by whichever road fits the size of the table.

use super::exact::exact;
use super::monte_carlo::monte_carlo;
use super::ordering::Ordering;
use crate::stats::error::Error;

/// How to test.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Settings {
    /// What makes a table extreme.
    pub ordering: Ordering,
    /// Largest work of the exact test in steps; above it tables are drawn.
    pub limit: u64,
    /// Tables to draw.
    pub draws: u64,
    /// Seed of the draws.
    pub seed: u64,
}

impl Default for Settings {
    /// Probability ordering, at most 20 million steps (some tenths of a second), 100 000 draws.
    fn default() -> Self {
        Self {
            ordering: Ordering::Probability,
            limit: 20_000_000,
            draws: 100_000,
            seed: 1,
        }
    }
}

/// The road that was taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Road {
    /// Every table was accounted for.
    Exact {
        /// Number of possible tables.
        tables: f64,
    },
    /// Tables were drawn.
    MonteCarlo {
        /// How many.
        draws: u64,
        /// From which seed.
        seed: u64,
        /// Standard error of the p-value from drawing.
        standard_error: f64,
    },
}

/// Result of the test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    /// Probability of a table at least as extreme as the observed one.
    pub p: f64,
    /// What made a table extreme.
    pub ordering: Ordering,
    /// Exact or drawn.
    pub road: Road,
}

/// Tests `counts` against `shares`: exactly up to the limit, by seeded draws above it.
///
/// # Errors
/// As [`super::chi_square`]; no draw where draws are needed.
pub fn test(counts: &[u64], shares: &[f64], settings: &Settings) -> Result<Outcome, Error> {
    let Settings {
        ordering,
        limit,
        draws,
        seed,
    } = *settings;
    if let Some(found) = exact(counts, shares, ordering, limit)? {
        return Ok(Outcome {
            p: found.p,
            ordering,
            road: Road::Exact {
                tables: found.tables,
            },
        });
    }
    let drawn = monte_carlo(counts, shares, ordering, draws, seed)?;
    let road = Road::MonteCarlo {
        draws,
        seed,
        standard_error: drawn.standard_error,
    };
    Ok(Outcome {
        p: drawn.p,
        ordering,
        road,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::equal_shares::equal;

    /// Small tables are exact, large ones drawn, and at the border both roads tell the same.
    #[test]
    fn takes_the_road_that_fits() {
        let small = test(&[8, 3, 1, 4], &equal(4), &Settings::default()).unwrap();
        assert_eq!(small.road, Road::Exact { tables: 969.0 });
        let drawn = test(
            &[8, 3, 1, 4],
            &equal(4),
            &Settings {
                limit: 0,
                ..Settings::default()
            },
        )
        .unwrap();
        let Road::MonteCarlo {
            standard_error,
            draws,
            seed,
        } = drawn.road
        else {
            panic!("{drawn:?}")
        };
        assert_eq!((draws, seed), (100_000, 1));
        assert!((drawn.p - small.p).abs() < 4.0 * standard_error);
        let huge = test(
            &[1_000_000_000; 8],
            &equal(8),
            &Settings {
                draws: 100,
                ..Settings::default()
            },
        )
        .unwrap();
        assert!(matches!(huge.road, Road::MonteCarlo { draws: 100, .. }) && huge.p > 0.9);
    }
}
