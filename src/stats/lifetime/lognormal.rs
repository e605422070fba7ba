//! The lognormal distribution on the log scale: z = (ln t - mu) / sigma follows the standard normal.
//!
//! exp(mu) is the distance by which half have failed. The hazard rises, then falls. (Meeker & Escobar 1998, section 4.6.)

use std::f64::consts::PI;

use super::jet::Jet;
use crate::stats::special::{norm_pdf, norm_quantile, norm_sf};

/// Where the upper tail is left to its asymptotic series: its terms fall below 1e-17 there.
const FAR: f64 = 25.0;

/// ln f(z) = -z^2 / 2 - ln(2 pi) / 2.
pub fn log_density(z: f64) -> Jet {
    Jet {
        value: -0.5 * z * z - 0.5 * (2.0 * PI).ln(),
        slope: -z,
        bend: -1.0,
    }
}

/// ln Q(z), the logarithm of the upper tail.
pub fn log_survival(z: f64) -> Jet {
    let UpperTail {
        value,
        hazard,
        excess,
    } = upper_tail(z);
    Jet {
        value,
        slope: -hazard,
        bend: -hazard * excess,
    }
}

/// ln P(z) = ln Q(-z).
pub fn log_failed(z: f64) -> Jet {
    let Jet { value, slope, bend } = log_survival(-z);
    Jet {
        value,
        slope: -slope,
        bend,
    }
}

/// The z below which a share p lies.
pub fn standard_quantile(p: f64) -> f64 {
    norm_quantile(p)
}

/// The upper tail.
struct UpperTail {
    /// ln Q(z).
    value: f64,
    /// f(z) / Q(z).
    hazard: f64,
    /// The hazard less z, which far out is the small difference of large numbers.
    excess: f64,
}

fn upper_tail(z: f64) -> UpperTail {
    if z < FAR {
        let q = norm_sf(z);
        let hazard = norm_pdf(z) / q;
        return UpperTail {
            value: q.ln(),
            hazard,
            excess: hazard - z,
        };
    }
    // Q(z) = f(z) / z (1 - 1/z^2 + 3/z^4 - 15/z^6 + ...) (Abramowitz & Stegun 1964, 26.2.12).
    let square = z * z;
    let (mut term, mut rest) = (1.0, 0.0);
    for k in 1..12 {
        term *= -f64::from(2 * k - 1) / square;
        rest += term;
    }
    let excess = -z * rest / (1.0 + rest);
    UpperTail {
        value: log_density(z).value - z.ln() + rest.ln_1p(),
        hazard: z + excess,
        excess,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn far_tail_joins_the_near_one() {
        let (below, above) = (upper_tail(FAR - 1e-9), upper_tail(FAR));
        assert!((below.value - above.value - 1e-9 * above.hazard).abs() < 1e-11);
        assert!((below.excess / above.excess - 1.0).abs() < 1e-9);
        // Far out the excess is 1 / z.
        let far = upper_tail(1e8);
        assert!((far.excess * 1e8 - 1.0).abs() < 1e-15 && far.value.is_finite());
    }
}
