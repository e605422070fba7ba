//! Limits for a probability estimated with a standard error, on the scale of choice.
//!
//! The five scales answer differently with few failures, and programs differ in their default, so that the scale is always
//! named beside the limits. Plain and logarithmic limits may pass 0 or 1; they are returned uncut, and whoever shows them cuts
//! and says so. The log-log scale is this crate's default: it stays inside (0, 1) and covers best when survival is high
//! (Borgan & Liestoel 1990, Scand J Stat 17:35).

use crate::stats::Interval;

/// The scale on which the estimate is taken to be normal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Transformation {
    /// S +- z se.
    Plain,
    /// S exp(+- z se / S).
    Log,
    /// S^exp(-+ z se / (S ln S)) (Kalbfleisch & Prentice 1980).
    LogLog,
    /// sin^2(asin sqrt S +- z se / (2 sqrt(S (1 - S)))), cut at 0 and 1 (Nair 1984).
    Arcsine,
    /// On ln(S / (1 - S)), se / (S (1 - S)).
    Logit,
}

impl Transformation {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Plain,
        Self::Log,
        Self::LogLog,
        Self::Arcsine,
        Self::Logit,
    ];

    /// The name to print beside limits.
    pub fn id(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Log => "log",
            Self::LogLog => "log-log",
            Self::Arcsine => "arcsine",
            Self::Logit => "logit",
        }
    }

    /// Limits for an estimate 0 < `estimate` < 1 whose logarithm has standard error `relative_error` (se / estimate), at
    /// `deviate` standard errors (1.96 for 95 % at one point, more for a band).
    pub fn limits(self, estimate: f64, relative_error: f64, deviate: f64) -> Interval {
        let (s, step) = (estimate, deviate * relative_error);
        let (lower, upper) = match self {
            Self::Plain => (s - s * step, s + s * step),
            Self::Log => (s * (-step).exp(), s * step.exp()),
            Self::LogLog => {
                let shift = step / s.ln();
                (s.powf((-shift).exp()), s.powf(shift.exp()))
            }
            Self::Arcsine => {
                let (centre, half) = (s.sqrt().asin(), 0.5 * step * (s / (1.0 - s)).sqrt());
                let square =
                    |angle: f64| angle.clamp(0.0, std::f64::consts::FRAC_PI_2).sin().powi(2);
                (square(centre - half), square(centre + half))
            }
            Self::Logit => {
                let (centre, half) = ((s / (1.0 - s)).ln(), step / (1.0 - s));
                let share = |log_odds: f64| 1.0 / (1.0 + (-log_odds).exp());
                (share(centre - half), share(centre + half))
            }
        };
        Interval { lower, upper }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_enclose_the_estimate_and_widen_with_the_deviate() {
        for transformation in Transformation::ALL {
            for s in [0.01, 0.3, 0.5, 0.9, 0.999] {
                let narrow = transformation.limits(s, 0.1 * (1.0 - s), 1.0);
                let wide = transformation.limits(s, 0.1 * (1.0 - s), 2.0);
                let ordered = wide.lower < narrow.lower && narrow.lower < s;
                assert!(
                    ordered && s < narrow.upper && narrow.upper <= wide.upper,
                    "{transformation:?} {s}"
                );
            }
        }
    }

    #[test]
    fn all_scales_agree_when_the_error_is_small() {
        for transformation in Transformation::ALL {
            let limits = transformation.limits(0.4, 1e-6, 1.0);
            assert!(
                (limits.lower - (0.4 - 0.4e-6)).abs() < 1e-11,
                "{transformation:?}"
            );
            assert!(
                (limits.upper - (0.4 + 0.4e-6)).abs() < 1e-11,
                "{transformation:?}"
            );
        }
    }
}
