//! Curves in the plane of (mu, ln sigma) along which one quantity is fixed, for profiling the likelihood.

use super::family::Family;
use super::fit::{Fit, hazard_gradient};
use super::likelihood::Parameters;

/// The quantity held fixed. Its value is a logarithm, so that limits are sought on an unbounded, even scale.
#[derive(Debug, Clone, Copy)]
pub(super) enum Constraint {
    /// Value ln t_p = mu + sigma z_p.
    Quantile {
        /// z_p.
        standard: f64,
    },
    /// Value ln sigma.
    Scale,
    /// Value: the logarithm of the cumulative hazard between two distances.
    Hazard {
        /// ln of the first distance; minus infinity for the start of life.
        from: f64,
        /// ln of the second.
        to: f64,
    },
}

/// A point of a curve: parameters, and their derivatives along the curve (first and second), by the fixed value, and by both.
pub(super) struct Free {
    pub parameters: Parameters,
    pub tangent: [f64; 2],
    pub curvature: [f64; 2],
    pub by_value: [f64; 2],
    pub turn: [f64; 2],
}

impl Constraint {
    /// The quantity at the fit, with its standard error.
    pub fn estimate(self, fit: &Fit) -> (f64, f64) {
        let (mu, sigma) = (fit.parameters.location, fit.sigma());
        match self {
            Self::Quantile { standard } => {
                let step = sigma * standard;
                (mu + step, fit.error_of([1.0, step]))
            }
            Self::Scale => (fit.parameters.log_scale, fit.error_of([0.0, 1.0])),
            Self::Hazard { from, to } => {
                let (z1, z2) = ((from - mu) / sigma, (to - mu) / sigma);
                let hazard = fit.family.hazard_between(z1, z2);
                let [by_mu, by_scale] = hazard_gradient(fit.family, z1, z2, sigma);
                let error = fit.error_of([by_mu / hazard, by_scale / hazard]);
                (hazard.ln(), error)
            }
        }
    }

    /// The free coordinate at the fit: ln sigma, or mu where ln sigma is fixed.
    pub fn free_at(self, fit: &Fit) -> f64 {
        match self {
            Self::Scale => fit.parameters.location,
            _ => fit.parameters.log_scale,
        }
    }

    /// A step of ordinary size in the free coordinate along the curve of `value`. A lognormal's hazard of (ln t - mu) / (sigma^2 t) far in
    /// the tail makes it sigma^2 where sigma is large.
    pub fn free_unit(self, value: f64) -> f64 {
        match self {
            Self::Scale => (2.0 * value).exp().max(1.0),
            _ => 1.0,
        }
    }

    /// The range of the free coordinate.
    pub fn range(self, fit: &Fit) -> (f64, f64) {
        let half = if matches!(self, Self::Scale) {
            1e6
        } else {
            12.0
        };
        (self.free_at(fit) - half, self.free_at(fit) + half)
    }

    /// The point at a free coordinate on the curve of `value`; none when it cannot be computed.
    pub fn point(self, fit: &Fit, free: f64, value: f64) -> Option<Free> {
        let point = match self {
            Self::Scale => Free {
                parameters: Parameters {
                    location: free,
                    log_scale: value,
                },
                tangent: [1.0, 0.0],
                curvature: [0.0, 0.0],
                by_value: [0.0, 1.0],
                turn: [0.0, 0.0],
            },
            Self::Quantile { standard } => {
                let step = standard * free.exp();
                Free {
                    parameters: Parameters {
                        location: value - step,
                        log_scale: free,
                    },
                    tangent: [-step, 1.0],
                    curvature: [-step, 0.0],
                    by_value: [1.0, 0.0],
                    turn: [0.0, 0.0],
                }
            }
            Self::Hazard { from, to } => hazard_point(fit, from, to, free, value)?,
        };
        let finite =
            point.parameters.location.is_finite() && point.parameters.log_scale.is_finite();
        finite.then_some(point)
    }
}

/// mu solves ln H = value at the given ln sigma; its derivatives follow from those of G(mu, ln sigma) = ln H.
fn hazard_point(fit: &Fit, from: f64, to: f64, log_scale: f64, value: f64) -> Option<Free> {
    let (family, sigma) = (fit.family, log_scale.exp());
    // Start where the whole hazard up to `to` would have the value: near enough, and exact from the start of life.
    let share = -(-value.exp()).exp_m1();
    let standard = match family {
        Family::Weibull => value,
        _ if share < 1.0 && share > 0.0 => family.standard_quantile(share),
        _ => value,
    };
    let mut mu = to - sigma * standard;
    let mut log_hazard = LogHazard::at(family, from, to, mu, sigma);
    for _ in 0..100 {
        let step = (value - log_hazard.value) / log_hazard.by_mu;
        let step = step.clamp(-5.0 * sigma, 5.0 * sigma);
        if step.is_nan() {
            return None;
        }
        mu += step;
        log_hazard = LogHazard::at(family, from, to, mu, sigma);
        if step.abs() <= 1e-15 * (1.0 + mu.abs()) {
            break;
        }
    }
    let slope = -log_hazard.by_scale / log_hazard.by_mu;
    let bend = -(log_hazard.scale_scale
        + 2.0 * log_hazard.mu_scale * slope
        + log_hazard.mu_mu * slope * slope)
        / log_hazard.by_mu;
    let turn = -(log_hazard.mu_scale + log_hazard.mu_mu * slope) / log_hazard.by_mu.powi(2);
    Some(Free {
        parameters: Parameters {
            location: mu,
            log_scale,
        },
        tangent: [slope, 1.0],
        curvature: [bend, 0.0],
        by_value: [1.0 / log_hazard.by_mu, 0.0],
        turn: [turn, 0.0],
    })
}

/// ln H between two distances with its derivatives by mu and ln sigma.
struct LogHazard {
    value: f64,
    by_mu: f64,
    by_scale: f64,
    mu_mu: f64,
    mu_scale: f64,
    scale_scale: f64,
}

impl LogHazard {
    fn at(family: Family, from: f64, to: f64, mu: f64, sigma: f64) -> Self {
        let (z1, z2) = ((from - mu) / sigma, (to - mu) / sigma);
        let hazard = family.hazard_between(z1, z2);
        let [by_mu, by_scale] = hazard_gradient(family, z1, z2, sigma).map(|part| part / hazard);
        // H = s(z1) - s(z2) with s = ln S; second derivatives as those of the likelihood's terms.
        let second = |z: f64| {
            if z == f64::NEG_INFINITY {
                return [0.0; 3];
            }
            let jet = family.log_survival(z);
            [
                jet.bend / (sigma * sigma),
                (z * jet.bend + jet.slope) / sigma,
                z * z * jet.bend + z * jet.slope,
            ]
        };
        let (start, end) = (second(z1), second(z2));
        let part = |i: usize| (start[i] - end[i]) / hazard;
        Self {
            value: hazard.ln(),
            by_mu,
            by_scale,
            mu_mu: part(0) - by_mu * by_mu,
            mu_scale: part(1) - by_mu * by_scale,
            scale_scale: part(2) - by_scale * by_scale,
        }
    }
}
