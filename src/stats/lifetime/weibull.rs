//! The two-parameter Weibull distribution on the log scale: z = (ln t - ln eta) beta follows the smallest extreme value.
//!
//! S(t) = exp(-(t / eta)^beta), t >= 0, with scale eta (distance by which 63.2 % have failed) and shape beta: below 1 the
//! hazard falls, above 1 it rises. There is no third parameter (no failure-free distance): where one is suspected, condition on
//! survival to it. (Weibull 1951; Meeker & Escobar 1998, section 4.8.)

use super::jet::Jet;

/// ln f(z) = z - e^z and ln S(z) = -e^z, which share their exponential.
pub fn log_density_and_survival(z: f64) -> (Jet, Jet) {
    let w = z.exp();
    let density = Jet {
        value: z - w,
        slope: 1.0 - w,
        bend: -w,
    };
    let survival = Jet {
        value: -w,
        slope: -w,
        bend: -w,
    };
    (density, survival)
}

/// ln F(z) = ln(1 - exp(-e^z)).
pub fn log_failed(z: f64) -> Jet {
    let w = z.exp();
    // w / (e^w - 1), 1 at w = 0.
    let ratio = if w > 0.0 { w / w.exp_m1() } else { 1.0 };
    Jet {
        value: if w > 1e-300 { (-(-w).exp_m1()).ln() } else { z },
        slope: ratio,
        bend: ratio * (1.0 - w - ratio),
    }
}

/// The z below which a share p lies, ln(-ln(1 - p)).
pub fn standard_quantile(p: f64) -> f64 {
    (-(-p).ln_1p()).ln()
}
