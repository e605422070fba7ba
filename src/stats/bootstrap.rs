//! Percentile limits by drawing whole clusters again, seeded: the same seed gives the same limits.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::error::Error;
use super::interval::{Interval, tail};
use super::quantile::{QuantileType, quantile};

/// Limits of two statistics of a clustered sample from `draws` samples of as many clusters, drawn with replacement.
///
/// Whole clusters are drawn, so that values that belong together stay together (Davison & Hinkley 1997, Bootstrap Methods,
/// section 3.8). Limits are the `(1 - level) / 2` and `(1 + level) / 2` quantiles of the statistics (percentile method, section 5.3).
///
/// # Errors
/// No cluster, fewer than two draws, a level outside (0, 1), or what `statistics` refuses.
pub fn percentile_limits(
    clusters: &[Vec<f64>],
    draws: usize,
    seed: u64,
    level: f64,
    statistics: impl Fn(&[f64]) -> Result<(f64, f64), Error>,
) -> Result<(Interval, Interval), Error> {
    let alpha = tail(level)?;
    if clusters.is_empty() || draws < 2 {
        return Err(Error::Input {
            name: "clusters, draws",
            requirement: "at least one cluster and two draws",
        });
    }
    let mut generator = ChaCha8Rng::seed_from_u64(seed);
    let mut sample = Vec::with_capacity(clusters.iter().map(Vec::len).sum());
    let (mut first, mut second) = (Vec::with_capacity(draws), Vec::with_capacity(draws));
    for _ in 0..draws {
        sample.clear();
        for _ in clusters {
            let drawn = generator.random_range(0..clusters.len());
            sample.extend(clusters.get(drawn).into_iter().flatten());
        }
        let (a, b) = statistics(&sample)?;
        first.push(a);
        second.push(b);
    }
    let limits = |mut found: Vec<f64>| {
        found.sort_by(f64::total_cmp);
        let at = |p| quantile(&found, p, QuantileType::Weibull);
        Ok::<_, Error>(Interval {
            lower: at(alpha)?,
            upper: at(1.0 - alpha)?,
        })
    };
    Ok((limits(first)?, limits(second)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mean(sample: &[f64]) -> Result<(f64, f64), Error> {
        let mean = sample.iter().sum::<f64>() / sample.len() as f64;
        Ok((mean, -mean))
    }

    #[test]
    fn a_seed_says_it_all() {
        let clusters: Vec<Vec<f64>> = (0..30).map(|i| vec![f64::from(i); 3]).collect();
        let one = percentile_limits(&clusters, 400, 7, 0.9, mean).unwrap();
        assert_eq!(
            percentile_limits(&clusters, 400, 7, 0.9, mean).unwrap(),
            one
        );
        assert_ne!(
            percentile_limits(&clusters, 400, 8, 0.9, mean).unwrap(),
            one
        );
        assert_eq!(one.0.lower, -one.1.upper);
    }

    /// Closed form: the mean of m clusters of equal values has standard error sd / sqrt(m), however large the clusters are.
    #[test]
    fn clusters_are_not_taken_for_more_than_they_are() {
        let clusters: Vec<Vec<f64>> = (0..100).map(|i| vec![f64::from(i); 4]).collect();
        let (limits, _) = percentile_limits(&clusters, 4000, 1, 0.95, mean).unwrap();
        // Variance of 0..99 with divisor 100 is (100^2 - 1) / 12.
        let width = 2.0 * 1.959963984540054 * (9999.0f64 / 12.0 / 100.0).sqrt();
        assert!(
            (limits.width() / width - 1.0).abs() < 0.06,
            "{}",
            limits.width()
        );
    }
}
