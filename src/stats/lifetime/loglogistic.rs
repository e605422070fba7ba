//! The loglogistic distribution on the log scale: z = (ln t - mu) / sigma follows the standard logistic.
//!
//! exp(mu) is the distance by which half have failed, 1 / sigma the shape. (Meeker & Escobar 1998, section 4.11.)

use super::jet::Jet;

/// ln f(z) = z - 2 ln(1 + e^z) and ln S(z) = -ln(1 + e^z), which share their exponential.
pub fn log_density_and_survival(z: f64) -> (Jet, Jet) {
    // e^-|z|, which cannot overflow.
    let smaller = (-z.abs()).exp();
    let (more, less) = (1.0 / (1.0 + smaller), smaller / (1.0 + smaller));
    let (failed, survived) = if z > 0.0 { (more, less) } else { (less, more) };
    let soft_plus = z.max(0.0) + smaller.ln_1p();
    let density = Jet {
        value: z - 2.0 * soft_plus,
        slope: 1.0 - 2.0 * failed,
        bend: -2.0 * failed * survived,
    };
    let survival = Jet {
        value: -soft_plus,
        slope: -failed,
        bend: -failed * survived,
    };
    (density, survival)
}

/// ln F(z) = -ln(1 + e^-z).
pub fn log_failed(z: f64) -> Jet {
    let (_, Jet { value, slope, bend }) = log_density_and_survival(-z);
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
