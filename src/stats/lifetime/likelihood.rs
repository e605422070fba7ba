//! The log-likelihood of a family with its first and second derivatives by mu and ln sigma.

use super::family::Family;
use super::jet::Jet;
use super::observed::Observed;
use super::{loglogistic, lognormal, weibull};

/// Parameters: ln t = mu + sigma z.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameters {
    /// mu.
    pub location: f64,
    /// ln sigma.
    pub log_scale: f64,
}

/// The log-likelihood at one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Likelihood {
    /// ln L, with the density of t (its term -ln t included): compare only within this convention.
    pub value: f64,
    /// Derivatives by mu and ln sigma.
    pub gradient: [f64; 2],
    /// Second derivatives.
    pub hessian: [[f64; 2]; 2],
}

/// ln L = sum over failures of ln f(z) - ln sigma - ln t, over lives left of ln S(z), over lives found failed of ln F(z), less
/// ln S(z) at late entries (Meeker & Escobar 1998, sections 8.2 and 11.6).
///
/// With z = (ln t - mu) / sigma: dz/dmu = -1 / sigma and dz/dln sigma = -z.
pub fn likelihood(family: Family, observed: &Observed, at: Parameters) -> Likelihood {
    // Each family in a loop of its own, with its functions inside.
    match family {
        Family::Weibull => gathered(observed, at, weibull::log_density_and_survival, family),
        Family::Lognormal => gathered(
            observed,
            at,
            |z| (lognormal::log_density(z), lognormal::log_survival(z)),
            family,
        ),
        Family::Loglogistic => {
            gathered(observed, at, loglogistic::log_density_and_survival, family)
        }
    }
}

fn gathered(
    observed: &Observed,
    at: Parameters,
    density_and_survival: impl Fn(f64) -> (Jet, Jet),
    family: Family,
) -> Likelihood {
    let sigma = at.log_scale.exp();
    let mut sums = Sums::default();
    for term in observed.terms() {
        let z = (term.log_distance - at.location) / sigma;
        let (density, survival) = density_and_survival(z);
        if term.failed != 0.0 {
            sums.add(term.failed, z, density);
            sums.value -= term.failed * (at.log_scale + term.log_distance);
            sums.exact += term.failed;
        }
        if term.survived != 0.0 {
            sums.add(term.survived, z, survival);
        }
        if term.failed_before > 0.0 {
            sums.add(term.failed_before, z, family.log_failed(z));
        }
    }
    let cross = (sums.z_bend + sums.slope) / sigma;
    Likelihood {
        value: sums.value,
        gradient: [-sums.slope / sigma, -sums.z_slope - sums.exact],
        hessian: [
            [sums.bend / (sigma * sigma), cross],
            [cross, sums.zz_bend + sums.z_slope],
        ],
    }
}

#[derive(Default)]
struct Sums {
    value: f64,
    exact: f64,
    slope: f64,
    z_slope: f64,
    bend: f64,
    z_bend: f64,
    zz_bend: f64,
}

impl Sums {
    fn add(&mut self, weight: f64, z: f64, jet: Jet) {
        let (slope, bend) = (weight * jet.slope, weight * jet.bend);
        self.value += weight * jet.value;
        self.slope += slope;
        self.z_slope += z * slope;
        self.bend += bend;
        self.z_bend += z * bend;
        self.zz_bend += z * z * bend;
    }
}
