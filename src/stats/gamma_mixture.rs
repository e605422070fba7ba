//! A rate ratio given a prior that mixes two gamma distributions, most cells ordinary and some extraordinary.
//!
//! A count `n` where `expected` were is weighed against both parts of the prior; the posterior is again a mixture of two gamma
//! distributions (DuMouchel 1999, Am Stat 53:177). The geometric mean of the posterior ranks cells; its 5 % point is a
//! cautious version of it. The parameters of the prior are given here, not estimated.

use super::bracketed_root::bracketed_root;
use super::error::Error;
use super::rising_factorial::{digamma, ln_rising_over_power};
use super::special::deviance::ln_1p_minus;
use super::special::{gamma_p, gamma_p_inverse};

/// A gamma distribution by shape and rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gamma {
    /// Shape, above 0.
    pub shape: f64,
    /// Rate, above 0.
    pub rate: f64,
}

/// Two gamma distributions and the weight of the first; a prior or a posterior of a ratio of observed to expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GammaMixture {
    first: Gamma,
    second: Gamma,
    weight: f64,
}

impl GammaMixture {
    /// A mixture with `weight` on `first` and the rest on `second`.
    ///
    /// # Errors
    /// A weight outside [0, 1], a shape or rate that is not positive and finite.
    pub fn new(first: Gamma, second: Gamma, weight: f64) -> Result<Self, Error> {
        for (name, value) in [
            ("shape", first.shape),
            ("rate", first.rate),
            ("shape", second.shape),
            ("rate", second.rate),
        ] {
            if !(value > 0.0 && value.is_finite()) {
                return Err(Error::Parameter {
                    name,
                    value,
                    requirement: "above 0 and finite",
                });
            }
        }
        if !(0.0..=1.0).contains(&weight) {
            return Err(Error::Parameter {
                name: "weight",
                value: weight,
                requirement: "from 0 to 1",
            });
        }
        Ok(Self {
            first,
            second,
            weight,
        })
    }

    /// The mixture after `count` events were seen where `expected` were.
    ///
    /// Shapes grow by the count and rates by the expected number; the weight becomes
    /// `w f1 / (w f1 + (1 - w) f2)`, `f` the negative binomial probabilities of the count.
    ///
    /// # Errors
    /// An expected number that is not positive and finite.
    pub fn given(&self, count: u64, expected: f64) -> Result<Self, Error> {
        if !(expected > 0.0 && expected.is_finite()) {
            return Err(Error::Parameter {
                name: "expected",
                value: expected,
                requirement: "above 0 and finite",
            });
        }
        let odds = (ln_marginal(self.second, count, expected)
            - ln_marginal(self.first, count, expected))
        .exp();
        let updated = |g: Gamma| Gamma {
            shape: g.shape + count as f64,
            rate: g.rate + expected,
        };
        // A part of weight 0 keeps it, also where the odds overflow.
        let weight = if self.weight == 0.0 || self.weight == 1.0 {
            self.weight
        } else {
            self.weight / (self.weight + (1.0 - self.weight) * odds)
        };
        Ok(Self {
            first: updated(self.first),
            second: updated(self.second),
            weight,
        })
    }

    /// Weight of the first distribution.
    pub fn weight(&self) -> f64 {
        self.weight
    }

    /// Mean.
    pub fn mean(&self) -> f64 {
        self.mixed(|g| g.shape / g.rate)
    }

    /// Geometric mean, `exp` of the mean logarithm.
    pub fn geometric_mean(&self) -> f64 {
        self.mixed(|g| digamma(g.shape) - g.rate.ln()).exp()
    }

    /// The value below which the ratio lies with probability `p`.
    ///
    /// # Errors
    /// `p` outside (0, 1); a search without end.
    pub fn quantile(&self, p: f64) -> Result<f64, Error> {
        if !(p > 0.0 && p < 1.0) {
            return Err(Error::Parameter {
                name: "p",
                value: p,
                requirement: "strictly between 0 and 1",
            });
        }
        let own = |g: Gamma| gamma_p_inverse(g.shape, p) / g.rate;
        let (a, b) = (own(self.first), own(self.second));
        if a == b || self.weight == 1.0 {
            return Ok(a);
        }
        if self.weight == 0.0 {
            return Ok(b);
        }
        // The mixture's quantile lies between those of its parts.
        let excess = |x: f64| self.mixed(|g| gamma_p(g.shape, g.rate * x)) - p;
        bracketed_root("a quantile of the mixture", a.min(b), a.max(b), excess)
    }

    fn mixed(&self, f: impl Fn(Gamma) -> f64) -> f64 {
        self.weight * f(self.first) + (1.0 - self.weight) * f(self.second)
    }
}

/// `ln` of the negative binomial probability of `count`, less the parts that both distributions share.
fn ln_marginal(g: Gamma, count: u64, expected: f64) -> f64 {
    let u = expected / g.rate;
    ln_rising_over_power(g.shape, count) + count as f64 * (g.shape.ln() - g.rate.ln() - u.ln_1p())
        - g.shape * (ln_1p_minus(u) + u)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// One part alone is the conjugate gamma posterior (closed form).
    #[test]
    fn one_part_is_conjugate() {
        let part = Gamma {
            shape: 2.0,
            rate: 4.0,
        };
        for (weight, prior) in [(1.0, part), (0.0, part), (0.3, part)] {
            let posterior = GammaMixture::new(prior, part, weight)
                .unwrap()
                .given(3, 6.0)
                .unwrap();
            assert_relative_eq!(posterior.mean(), 0.5, max_relative = 1e-14);
            assert_relative_eq!(posterior.weight(), weight, max_relative = 1e-14);
            assert_relative_eq!(
                posterior.quantile(0.05).unwrap(),
                gamma_p_inverse(5.0, 0.05) / 10.0,
                max_relative = 1e-13
            );
        }
    }

    #[test]
    fn bad_input() {
        let part = Gamma {
            shape: 1.0,
            rate: 1.0,
        };
        assert!(
            GammaMixture::new(
                part,
                Gamma {
                    shape: 0.0,
                    rate: 1.0
                },
                0.5
            )
            .is_err()
        );
        assert!(GammaMixture::new(part, part, 1.5).is_err());
        let prior = GammaMixture::new(part, part, 0.5).unwrap();
        assert!(
            prior.given(1, 0.0).is_err()
                && prior.given(1, f64::NAN).is_err()
                && prior.quantile(1.0).is_err()
        );
    }
}
