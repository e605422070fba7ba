//! Distributions and simulated years as expected values and ranges.

use super::forecast::{Expectation, Forecast, Year};
use super::types::{Expected, Outlook, Range, Reserve};
use crate::stats::aggregate::Distribution;

/// Shares of what may happen that every range is given for.
pub const LEVELS: [f64; 3] = [0.5, 0.8, 0.95];

/// Minor units as major ones, rounded to the minor unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Money {
    /// Minor units of a major one.
    pub minor: f64,
}

impl Money {
    /// Of a currency with this many decimals.
    pub fn new(minor_digits: u32) -> Self {
        Self {
            minor: f64::from(10u32.pow(minor_digits.min(4))),
        }
    }

    /// Major units.
    pub fn major(self, minor_units: f64) -> f64 {
        minor_units.round() / self.minor
    }
}

/// A count from its distribution.
pub fn of_distribution(distribution: &Distribution) -> Expected {
    let ranges = LEVELS.map(|level| {
        let (lower, upper) = distribution.range(level);
        Range {
            level,
            lower: lower as f64,
            upper: upper as f64,
        }
    });
    Expected {
        expected: distribution.mean(),
        ranges: ranges.to_vec(),
    }
}

/// A simulated quantity.
pub fn of_samples(mut samples: Vec<f64>, show: impl Fn(f64) -> f64) -> Expected {
    samples.sort_by(f64::total_cmp);
    let mean = samples.iter().sum::<f64>() / (samples.len() as f64).max(1.0);
    let ranges = LEVELS.map(|level| Range {
        level,
        lower: show(quantile(&samples, 0.5 * (1.0 - level))),
        upper: show(quantile(&samples, 0.5 * (1.0 + level))),
    });
    Expected {
        expected: show(mean),
        ranges: ranges.to_vec(),
    }
}

/// The smallest of sorted values that at least the share `p` of them does not exceed.
pub fn quantile(sorted: &[f64], p: f64) -> f64 {
    let place = (p * sorted.len() as f64 - 1e-9).ceil().max(1.0) as usize;
    sorted
        .get(place.min(sorted.len()).saturating_sub(1))
        .copied()
        .unwrap_or(0.0)
}

/// Confidences that reserves are listed for: each 5 % from an even chance on, and 99 %.
const CONFIDENCES: [f64; 11] = [0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 0.99];

/// What suffices for the whole fleet, confidence by confidence, the one asked for among them; nothing where no cost is known.
pub fn reserves(forecast: &Forecast, has: Has) -> Vec<Reserve> {
    if !has.costs {
        return Vec::new();
    }
    let totals = forecast.years.iter().map(|year| year.costs.iter().sum());
    let totals: Vec<f64> = totals.collect();
    let mut confidences = CONFIDENCES.to_vec();
    confidences.push(has.confidence);
    confidences.sort_by(f64::total_cmp);
    confidences.dedup();
    let of = |confidence| reserve(totals.clone(), confidence, has.money);
    confidences.into_iter().map(of).collect()
}

/// What suffices at a confidence, and what is missing on average where it does not.
pub fn reserve(mut samples: Vec<f64>, confidence: f64, money: Money) -> Reserve {
    samples.sort_by(f64::total_cmp);
    let amount = quantile(&samples, confidence);
    let beyond: Vec<f64> = samples
        .iter()
        .filter(|s| **s > amount)
        .map(|s| s - amount)
        .collect();
    Reserve {
        confidence,
        amount: money.major(amount),
        mean_excess: money.major(beyond.iter().sum::<f64>() / (beyond.len() as f64).max(1.0)),
    }
}

/// Which of the amounts a forecast has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Has {
    /// Costs.
    pub costs: bool,
    /// Days off the road.
    pub days: bool,
    /// Confidence of the reserve.
    pub confidence: f64,
    /// Money.
    pub money: Money,
}

/// The outlook of the whole fleet, or of one family.
pub fn outlook(
    forecast: &Forecast,
    family: Option<usize>,
    units: u64,
    planned_m: i64,
    has: Has,
) -> Outlook {
    let distribution = match family {
        Some(i) => forecast.by_family.get(i).unwrap_or(&forecast.total),
        None => &forecast.total,
    };
    let pick = |list: &[f64]| match family {
        Some(i) => list.get(i).copied().unwrap_or(0.0),
        None => list.iter().sum(),
    };
    let samples = |of: fn(&Year) -> &[f64]| -> Vec<f64> {
        forecast.years.iter().map(|year| pick(of(year))).collect()
    };
    let money = has.money;
    let mut cost = has
        .costs
        .then(|| of_samples(samples(|y| &y.costs), |x| money.major(x)));
    if let Some(cost) = &mut cost {
        cost.expected = money.major(expected_cost(forecast, family));
    }
    Outlook {
        units,
        planned_m,
        count: of_distribution(distribution),
        most_likely: distribution.mode(),
        none: distribution.probability(0),
        cost,
        reserve: has
            .costs
            .then(|| reserve(samples(|y| &y.costs), has.confidence, money)),
        downtime_days: has.days.then(|| of_samples(samples(|y| &y.days), |x| x)),
    }
}

/// The expected cost, from the draws and not from the simulated years, so that families and units add up to it.
pub fn expected_cost(forecast: &Forecast, family: Option<usize>) -> f64 {
    let of = |e: &Expectation| e.count.mean * e.cost.mean;
    let draws = forecast.expectations.iter().map(|draw| match family {
        Some(i) => draw.get(i).map_or(0.0, of),
        None => draw.iter().map(of).sum(),
    });
    draws.sum::<f64>() / (forecast.expectations.len() as f64).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_values_that_happened() {
        let sorted: Vec<f64> = (1..=10).map(f64::from).collect();
        assert_eq!(
            (quantile(&sorted, 0.1), quantile(&sorted, 0.11)),
            (1.0, 2.0)
        );
        assert_eq!(
            (quantile(&sorted, 1.0), quantile(&sorted, 0.0)),
            (10.0, 1.0)
        );
        assert_eq!(quantile(&[], 0.5), 0.0);
    }

    #[test]
    fn reserve_and_what_is_missing_by_hand() {
        let samples = vec![0.0, 0.0, 100.0, 300.0, 500.0];
        let reserve = reserve(samples, 0.6, Money::new(2));
        assert_eq!((reserve.amount, reserve.mean_excess), (1.0, 3.0));
    }
}
