//! Failures to expect within a further distance, among lives of different ages.
//!
//! These are plug-in figures: they take the fitted distribution as known. An interval from them covers too little when the
//! fit rests on few failures (Escobar & Meeker 1999, Technometrics 41:113).

use crate::stats::special::binomial_pmf;

/// Lives that share a probability of failing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// How many lives.
    pub lives: u64,
    /// The probability that one of them fails, given its age: `Fit::failure_probability(age, age + further)`.
    pub probability: f64,
}

/// The distribution of the number of failures.
#[derive(Debug, Clone, PartialEq)]
pub struct Prediction {
    /// Lives at risk.
    pub lives: u64,
    /// Expected failures.
    pub expected: f64,
    /// Variance of their number, the sum of p (1 - p).
    pub variance: f64,
    /// Probability of 0, 1, 2, ... failures, up to where the rest is below 1e-15.
    pub probabilities: Vec<f64>,
}

/// The number of failures among independent lives (Poisson-binomial distribution), by convolving one binomial a group.
pub fn prediction(chances: &[Chance]) -> Prediction {
    let sum = |part: &dyn Fn(&Chance) -> f64| {
        chances
            .iter()
            .map(|c| c.lives as f64 * part(c))
            .sum::<f64>()
    };
    let mut probabilities = vec![1.0];
    for chance in chances {
        probabilities = convolve(&probabilities, &binomial(chance));
    }
    Prediction {
        lives: chances.iter().map(|chance| chance.lives).sum(),
        expected: sum(&|c| c.probability),
        variance: sum(&|c| c.probability * (1.0 - c.probability)),
        probabilities,
    }
}

impl Prediction {
    /// The smallest number of failures that is not exceeded with at least the probability `p`.
    pub fn quantile(&self, p: f64) -> u64 {
        let mut below = 0.0;
        let mut failures = 0;
        for probability in &self.probabilities {
            below += probability;
            if below >= p - 1e-13 {
                break;
            }
            failures += 1;
        }
        failures
    }
}

/// The binomial probabilities of one group, without a tail past the mean that is below 1e-19.
fn binomial(chance: &Chance) -> Vec<f64> {
    let mean = chance.lives as f64 * chance.probability;
    let mut list = Vec::new();
    for k in 0..=chance.lives {
        let probability = binomial_pmf(k, chance.lives, chance.probability);
        if k as f64 > mean && probability < 1e-19 {
            break;
        }
        list.push(probability);
    }
    list
}

fn convolve(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0; (a.len() + b.len()).saturating_sub(1)];
    for (shift, &x) in a.iter().enumerate() {
        for (sum, &y) in sums.iter_mut().skip(shift).zip(b) {
            *sum += x * y;
        }
    }
    while sums.len() > 1 && sums.last().is_some_and(|&last| last < 1e-18) {
        sums.pop();
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_unequal_lives_by_hand() {
        let two = prediction(&[
            Chance {
                lives: 1,
                probability: 0.1,
            },
            Chance {
                lives: 1,
                probability: 0.4,
            },
        ]);
        for (got, wanted) in two.probabilities.iter().zip([0.54, 0.42, 0.04]) {
            assert!((got - wanted).abs() < 1e-15);
        }
        assert_eq!(
            (two.quantile(0.5), two.quantile(0.55), two.quantile(0.99)),
            (0, 1, 2)
        );
    }

    #[test]
    fn groups_of_one_chance_are_one_binomial() {
        let chance = |lives| Chance {
            lives,
            probability: 0.3,
        };
        let parts = prediction(&[chance(4), chance(6)]);
        for (k, got) in parts.probabilities.iter().enumerate() {
            assert!((got - binomial_pmf(k as u64, 10, 0.3)).abs() < 1e-15);
        }
        assert_eq!(prediction(&[]).quantile(0.99), 0);
    }
}
