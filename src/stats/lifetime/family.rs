//! The families of lifetime distributions that share one fit: ln t = mu + sigma z with z of a standard form.

use super::jet::Jet;
use super::{loglogistic, lognormal, weibull};

/// A log-location-scale family.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Family {
    /// Two-parameter Weibull: eta = exp(mu), beta = 1 / sigma.
    Weibull,
    /// Lognormal.
    Lognormal,
    /// Loglogistic: shape 1 / sigma.
    Loglogistic,
}

impl Family {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Weibull, Self::Lognormal, Self::Loglogistic];

    /// The name to print.
    pub fn title(self) -> &'static str {
        match self {
            Self::Weibull => "Weibull (two parameters)",
            Self::Lognormal => "lognormal",
            Self::Loglogistic => "loglogistic",
        }
    }

    /// ln f(z) of the standard form.
    pub fn log_density(self, z: f64) -> Jet {
        match self {
            Self::Lognormal => lognormal::log_density(z),
            _ => self.log_density_and_survival(z).0,
        }
    }

    /// ln S(z).
    pub fn log_survival(self, z: f64) -> Jet {
        match self {
            Self::Lognormal => lognormal::log_survival(z),
            _ => self.log_density_and_survival(z).1,
        }
    }

    /// ln f(z) and ln S(z), for hardly more than one of them.
    pub fn log_density_and_survival(self, z: f64) -> (Jet, Jet) {
        match self {
            Self::Weibull => weibull::log_density_and_survival(z),
            Self::Lognormal => (lognormal::log_density(z), lognormal::log_survival(z)),
            Self::Loglogistic => loglogistic::log_density_and_survival(z),
        }
    }

    /// ln F(z).
    pub fn log_failed(self, z: f64) -> Jet {
        match self {
            Self::Weibull => weibull::log_failed(z),
            Self::Lognormal => lognormal::log_failed(z),
            Self::Loglogistic => loglogistic::log_failed(z),
        }
    }

    /// The z below which a share p lies.
    pub fn standard_quantile(self, p: f64) -> f64 {
        match self {
            Self::Weibull => weibull::standard_quantile(p),
            Self::Lognormal => lognormal::standard_quantile(p),
            Self::Loglogistic => loglogistic::standard_quantile(p),
        }
    }

    /// The cumulative hazard gathered between z = `from` and z = `to`; `from` is minus infinity for the start of life.
    pub fn hazard_between(self, from: f64, to: f64) -> f64 {
        match self {
            // e^to - e^from without cancellation.
            Self::Weibull if from > f64::NEG_INFINITY => from.exp() * (to - from).exp_m1(),
            _ if from > f64::NEG_INFINITY => {
                self.log_survival(from).value - self.log_survival(to).value
            }
            _ => -self.log_survival(to).value,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A function of a family that must be the derivative of another.
    fn check(label: &str, jet: impl Fn(f64) -> Jet) {
        for z in [-8.0, -2.0, -0.3, 0.0, 0.4, 1.5, 3.0] {
            let h = 1e-5;
            let (below, at, above) = (jet(z - h), jet(z), jet(z + h));
            let slope = (above.value - below.value) / (2.0 * h);
            let bend = (above.slope - below.slope) / (2.0 * h);
            let close = |a: f64, b: f64| (a - b).abs() <= 1e-6 * (1.0 + a.abs());
            assert!(
                close(at.slope, slope),
                "{label} slope at {z}: {} {slope}",
                at.slope
            );
            assert!(
                close(at.bend, bend),
                "{label} bend at {z}: {} {bend}",
                at.bend
            );
        }
    }

    #[test]
    fn derivatives_are_those_of_the_values() {
        for family in Family::ALL {
            check(family.title(), |z| family.log_density(z));
            check(family.title(), |z| family.log_survival(z));
            check(family.title(), |z| family.log_failed(z));
        }
    }

    #[test]
    fn density_survival_and_quantile_belong_together() {
        for family in Family::ALL {
            for p in [1e-6, 0.01, 0.3, 0.5, 0.9, 0.999] {
                let z = family.standard_quantile(p);
                let (survival, failed) = (family.log_survival(z), family.log_failed(z));
                assert!(
                    (failed.value.exp() / p - 1.0).abs() < 1e-12,
                    "{family:?} {p}"
                );
                assert!(
                    (survival.value.exp() / (1.0 - p) - 1.0).abs() < 1e-12,
                    "{family:?} {p}"
                );
                // f = -dS/dz.
                let density = -survival.value.exp() * survival.slope;
                assert!(
                    (family.log_density(z).value.exp() / density - 1.0).abs() < 1e-12,
                    "{family:?} {p}"
                );
            }
        }
    }

    #[test]
    fn hazard_over_a_short_stretch_keeps_its_digits() {
        let (from, width) = (-7.0f64, 1e-9f64);
        let exact = from.exp() * (width + 0.5 * width * width);
        let hazard = Family::Weibull.hazard_between(from, from + width);
        // The stretch itself is only known to the rounding of from + width.
        assert!((hazard / exact - 1.0).abs() < 1e-6, "{hazard} {exact}");
        let whole = Family::Lognormal.hazard_between(f64::NEG_INFINITY, 0.0);
        assert!((whole - std::f64::consts::LN_2).abs() < 1e-15);
    }
}
