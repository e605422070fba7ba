//! Probabilities of a run of whole numbers.

/// A distribution on whole numbers from `first` on.
#[derive(Debug, Clone, PartialEq)]
pub struct Distribution {
    /// The smallest value with a probability.
    pub first: u64,
    /// Probabilities of `first`, `first + 1`, ...
    pub probabilities: Vec<f64>,
}

/// A probability is reached when what is missing is rounding.
const ROUNDING: f64 = 1e-13;

impl Distribution {
    /// Values with their probabilities.
    pub fn values(&self) -> impl Iterator<Item = (u64, f64)> + '_ {
        (self.first..).zip(self.probabilities.iter().copied())
    }

    /// The probability of one value.
    pub fn probability(&self, value: u64) -> f64 {
        value
            .checked_sub(self.first)
            .and_then(|place| usize::try_from(place).ok())
            .and_then(|place| self.probabilities.get(place).copied())
            .unwrap_or(0.0)
    }

    /// The expected value.
    pub fn mean(&self) -> f64 {
        self.values().map(|(value, p)| value as f64 * p).sum()
    }

    /// The variance.
    pub fn variance(&self) -> f64 {
        let mean = self.mean();
        self.values()
            .map(|(value, p)| (value as f64 - mean).powi(2) * p)
            .sum()
    }

    /// The smallest value that is not exceeded with at least the probability `p`; the last one when rounding keeps the sum
    /// below it.
    pub fn quantile(&self, p: f64) -> u64 {
        let mut below = 0.0;
        let mut last = self.first;
        for (value, probability) in self.values() {
            below += probability;
            last = value;
            if below >= p - ROUNDING {
                break;
            }
        }
        last
    }

    /// The values between the quantiles (1 - level) / 2 and (1 + level) / 2, both included: they hold at least `level`.
    pub fn range(&self, level: f64) -> (u64, u64) {
        let tail = 0.5 * (1.0 - level);
        (self.quantile(tail), self.quantile(1.0 - tail))
    }

    /// The most likely value, the smallest of several.
    pub fn mode(&self) -> u64 {
        let mut best = (self.first, 0.0);
        for (value, p) in self.values() {
            if p > best.1 * (1.0 + ROUNDING) {
                best = (value, p);
            }
        }
        best.0
    }

    /// E[max(0, X - limit)]: what is missing on average if `limit` is set aside (stop-loss premium).
    pub fn excess(&self, limit: u64) -> f64 {
        self.values()
            .map(|(value, p)| value.saturating_sub(limit) as f64 * p)
            .sum()
    }

    /// The mixture of several distributions in equal parts; none of none.
    pub fn mixture(parts: &[Self]) -> Option<Self> {
        let first = parts.iter().map(|part| part.first).min()?;
        let mut probabilities: Vec<f64> = Vec::new();
        let share = 1.0 / parts.len() as f64;
        for part in parts {
            let shift = usize::try_from(part.first - first).ok()?;
            let length = shift + part.probabilities.len();
            if probabilities.len() < length {
                probabilities.resize(length, 0.0);
            }
            for (sum, p) in probabilities
                .iter_mut()
                .skip(shift)
                .zip(&part.probabilities)
            {
                *sum += share * p;
            }
        }
        Some(Self {
            first,
            probabilities,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_mode_and_excess_by_hand() {
        let d = Distribution {
            first: 2,
            probabilities: vec![0.25, 0.5, 0.25],
        };
        assert_eq!(
            (d.quantile(0.25), d.quantile(0.26), d.quantile(1.0)),
            (2, 3, 4)
        );
        assert_eq!((d.mode(), d.range(0.5)), (3, (2, 3)));
        assert_eq!((d.mean(), d.variance(), d.excess(2)), (3.0, 0.5, 1.0));
        assert_eq!(
            (d.probability(1), d.probability(4), d.probability(5)),
            (0.0, 0.25, 0.0)
        );
    }

    #[test]
    fn a_mixture_takes_equal_parts() {
        let one = |first| Distribution {
            first,
            probabilities: vec![1.0],
        };
        let mixed = Distribution::mixture(&[one(3), one(1), one(3), one(4)]).unwrap();
        assert_eq!(
            (mixed.first, mixed.probabilities),
            (1, vec![0.25, 0.0, 0.5, 0.25])
        );
        assert_eq!(Distribution::mixture(&[]), None);
    }
}
