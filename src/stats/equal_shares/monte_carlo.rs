//! The multinomial test by simulation, for tables too large for the exact one.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Binomial, Distribution};

use super::ordering::Ordering;
use super::table::Table;
use crate::stats::error::Error;

/// Result of the simulated test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonteCarlo {
    /// `(1 + extreme) / (1 + draws)`: never 0, and a valid p-value for any number of draws.
    pub p: f64,
    /// Standard error of `p` from the simulation alone, `sqrt(p (1 - p) / draws)`.
    pub standard_error: f64,
    /// Tables drawn.
    pub draws: u64,
    /// Of them, at least as extreme as the observed one.
    pub extreme: u64,
}

/// Draws `draws` tables under `shares` with a ChaCha8 generator from `seed` and counts those at least as extreme as
/// `counts` (Davison & Hinkley 1997, Bootstrap Methods, eq. 4.11). The same seed gives the same answer.
///
/// # Errors
/// As [`super::chi_square`]; no draw.
pub fn monte_carlo(
    counts: &[u64],
    shares: &[f64],
    ordering: Ordering,
    draws: u64,
    seed: u64,
) -> Result<MonteCarlo, Error> {
    let table = Table::new(counts, shares)?;
    if draws == 0 {
        return Err(Error::Parameter {
            name: "draws",
            value: 0.0,
            requirement: "at least one draw",
        });
    }
    let expected = table.expected();
    let threshold = ordering.threshold(&table);
    let mut generator = ChaCha8Rng::seed_from_u64(seed);
    let mut extreme = 0;
    for _ in 0..draws {
        let statistic = draw(&table, &mut generator, |cell, count| {
            ordering.part(count as f64, expected[cell])
        })?;
        extreme += u64::from(table.total == 0 || statistic >= threshold);
    }
    let p = (1 + extreme) as f64 / (1 + draws) as f64;
    Ok(MonteCarlo {
        p,
        standard_error: (p * (1.0 - p) / draws as f64).sqrt(),
        draws,
        extreme,
    })
}

/// Draws one table, each cell binomial given those before it, and sums `part` over its cells.
fn draw(
    table: &Table,
    generator: &mut ChaCha8Rng,
    part: impl Fn(usize, u64) -> f64,
) -> Result<f64, Error> {
    let (mut left, mut share_left) = (table.total, 1.0);
    let mut sum = 0.0;
    let last = table.cells() - 1;
    for (cell, &share) in table.shares.iter().enumerate() {
        let count = if cell == last || left == 0 {
            left
        } else {
            let chance = (share / share_left).clamp(0.0, 1.0);
            let binomial = Binomial::new(left, chance).map_err(|_| Error::Parameter {
                name: "shares",
                value: share,
                requirement: "each must be above 0",
            })?;
            binomial.sample(generator)
        };
        sum += part(cell, count);
        left -= count;
        share_left -= share;
    }
    Ok(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::equal_shares::{equal, exact};

    /// Over many seeds the simulated p-value lies around the exact one as its standard error says.
    #[test]
    fn agrees_with_the_exact_test_within_its_error() {
        for (counts, shares) in [
            (&[5_u64, 1, 1, 1][..], equal(4)),
            (&[9, 2, 6], vec![0.3, 0.3, 0.4]),
        ] {
            for ordering in Ordering::ALL {
                let want = exact(counts, &shares, ordering, 100_000)
                    .unwrap()
                    .unwrap()
                    .p;
                let scores: Vec<f64> = (0..40)
                    .map(|seed| monte_carlo(counts, &shares, ordering, 2000, seed).unwrap())
                    .map(|m| (m.p - want) / m.standard_error)
                    .collect();
                let mean = scores.iter().sum::<f64>() / 40.0;
                let spread = scores.iter().map(|z| z * z).sum::<f64>() / 40.0;
                assert!(
                    mean.abs() < 4.0 / 40.0_f64.sqrt(),
                    "{ordering:?}: mean score {mean}"
                );
                assert!(
                    (0.4..2.0).contains(&spread),
                    "{ordering:?}: spread of scores {spread}"
                );
            }
        }
    }

    #[test]
    fn one_seed_one_answer() {
        let run =
            |seed| monte_carlo(&[30, 10, 12], &equal(3), Ordering::Probability, 500, seed).unwrap();
        assert_eq!(run(4), run(4));
        assert!((0..20).any(|seed| run(seed).extreme != run(4).extreme));
    }

    #[test]
    fn edges() {
        let run = |counts: &[u64], shares: &[f64]| {
            monte_carlo(counts, shares, Ordering::Probability, 200, 1).unwrap()
        };
        assert_eq!(run(&[0, 0], &equal(2)).p, 1.0);
        assert_eq!(run(&[3], &[1.0]).p, 1.0);
        // Impossible by chance: the smallest p-value that 200 draws can give.
        assert_eq!(run(&[600_000_000, 400_000_000], &equal(2)).p, 1.0 / 201.0);
        let even = run(&[500_000_000, 500_000_000], &equal(2));
        assert!(even.p > 0.99, "{even:?}");
        assert!(monte_carlo(&[1, 2], &equal(2), Ordering::Probability, 0, 1).is_err());
    }
}
