//! Counts in bins, for the chart.

use super::types::Histogram;
use crate::stats::quantile::{QuantileType, quantile};

/// Bins over the central 95 % of the healthy, about.
const HEALTHY_BINS: f64 = 10.0;
/// At most this many times that span is drawn on either side of it.
const SPANS: f64 = 6.0;

/// Healthy and faulty in bins of a round width; what lies far from all healthy readings is counted, not drawn. `None` without a reading.
pub fn histogram(of: &'static str, healthy: &[f64], faulty: &[f64]) -> Option<Histogram> {
    let everything = || healthy.iter().chain(faulty).copied();
    let mut inner: Vec<f64> = if healthy.is_empty() { faulty } else { healthy }.to_vec();
    inner.sort_by(f64::total_cmp);
    let at = |p| quantile(&inner, p, QuantileType::Mode).ok();
    let (low, high) = (at(0.025)?, at(0.975)?);
    let mut span = high - low;
    if span <= 0.0 {
        span = (low.abs() * 0.1).max(1e-3);
    }
    let width = round_width(span / HEALTHY_BINS);
    let least = everything().fold(f64::INFINITY, f64::min);
    let greatest = everything().fold(f64::NEG_INFINITY, f64::max);
    let from = (least.max(low - SPANS * span) / width).floor() * width;
    let to = greatest.min(high + SPANS * span);
    // Bounded: at most 13 spans of 10 to 25 bins each.
    let bins = ((to - from) / width).floor() as usize + 1;
    let mut found = Histogram {
        of,
        from,
        width,
        healthy: vec![0; bins],
        faulty: vec![0; bins],
        below: 0,
        above: 0,
    };
    for (values, is_healthy) in [(healthy, true), (faulty, false)] {
        for x in values {
            let place = ((x - from) / width).floor();
            let counts = if is_healthy {
                &mut found.healthy
            } else {
                &mut found.faulty
            };
            if place < 0.0 {
                found.below += 1;
            } else if let Some(count) = counts.get_mut(place as usize) {
                *count += 1;
            } else {
                found.above += 1;
            }
        }
    }
    Some(found)
}

/// 1, 2 or 5 times a power of ten, not above `width`.
fn round_width(width: f64) -> f64 {
    let power = 10f64.powf(width.log10().floor());
    match width / power {
        r if r >= 5.0 => 5.0 * power,
        r if r >= 2.0 => 2.0 * power,
        _ => power,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_reading_is_counted_once() {
        let healthy: Vec<f64> = (0..100).map(|i| 900.0 + f64::from(i)).collect();
        let faulty = [100.0, 850.0, 990.0, 5000.0];
        let found = histogram("cylinder", &healthy, &faulty).unwrap();
        let sum = |v: &[u64]| v.iter().sum::<u64>();
        assert_eq!(sum(&found.healthy), 100);
        assert_eq!(sum(&found.faulty), 2);
        assert_eq!((found.below, found.above), (1, 1));
        assert!(found.healthy.len() < 330);
    }

    #[test]
    fn degenerate_samples_have_a_bin() {
        assert_eq!(histogram("cylinder", &[], &[]), None);
        let equal = histogram("cylinder", &[5.0; 3], &[]).unwrap();
        assert_eq!(equal.healthy.iter().sum::<u64>(), 3);
        let faulty = histogram("cylinder", &[], &[0.0, 0.0]).unwrap();
        assert_eq!(faulty.faulty.iter().sum::<u64>(), 2);
    }
}
