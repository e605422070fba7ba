//! The loglogistic distribution on the log scale: z = (ln t - mu) / sigma follows the standard logistic.
//!
//! exp(mu) is the distance by which half have failed, 1 / sigma the shape. (Meeker & Escobar 1998, section 4.11.)

use super::jet::Jet;

/// ln f(z) = z - 2 ln(1 + e^z).
pub fn log_density(z: f64) -> Jet {
    let share = failed(z);
    Jet {
        value: z - 2.0 * soft_plus(z),
        slope: 1.0 - 2.0 * share,
        bend: -2.0 * share * failed(-z),
    }
}

/// ln S(z) = -ln(1 + e^z).
pub fn log_survival(z: f64) -> Jet {
    let share = failed(z);
    Jet {
        value: -soft_plus(z),
        slope: -share,
        bend: -share * failed(-z),
    }
}

/// ln F(z) = -ln(1 + e^-z).
pub fn log_failed(z: f64) -> Jet {
    let Jet { value, slope, bend } = log_survival(-z);
    Jet {
        value,
        slope: -slope,
        bend,
    }
}

/// The z below which a share p lies, ln(p / (1 - p)).
pub fn standard_quantile(p: f64) -> f64 {
    p.ln() - (-p).ln_1p()
}

fn failed(z: f64) -> f64 {
    1.0 / (1.0 + (-z).exp())
}

/// ln(1 + e^z) without overflow.
fn soft_plus(z: f64) -> f64 {
    z.max(0.0) + (-z.abs()).exp().ln_1p()
}
