//! The lognormal distribution on the log scale: z = (ln t - mu) / sigma follows the standard normal.
//!
//! exp(mu) is the distance by which half have failed. The hazard rises, then falls. (Meeker & Escobar 1998, section 4.6.)

use std::f64::consts::PI;
use std::sync::LazyLock;

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
    if (-NEAR..NEAR).contains(&z) {
        return near_tail(z);
    }
    if z < -NEAR {
        // P(z) = f(z) / -z (1 - 1/z^2 + 3/z^4 - ...), of which Q(z) differs from 1 by less than a last digit.
        let (hazard, inverse) = (norm_pdf(z), 1.0 / (z * z));
        return UpperTail {
            value: hazard / z * (1.0 - inverse * (1.0 - 3.0 * inverse)),
            hazard,
            excess: hazard - z,
        };
    }
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

/// The tail within this distance of 0 is read off polynomials, in a third of the time.
const NEAR: f64 = 8.0;
/// Polynomials a unit of z.
const A_UNIT: f64 = 8.0;
/// Coefficients of each. ln Q has its nearest singularity, a zero of Q, at a distance of 2.8 from the real axis, so that what is left out is
/// below (1 / 16 / 2.8)^TERMS = 1e-18.
const TERMS: usize = 11;

/// Taylor's polynomials of ln Q about -NEAR, -NEAR + 1 / A_UNIT, ..., NEAR.
static POLYNOMIALS: LazyLock<Vec<[f64; TERMS]>> = LazyLock::new(|| {
    let most = (2.0 * NEAR * A_UNIT) as usize;
    let centres = (0..=most).map(|i| i as f64 / A_UNIT - NEAR);
    centres.map(polynomial).collect()
});

/// The hazard h = f / Q grows as h' = h (h - z), which gives its coefficients one from another; those of ln Q follow from (ln Q)' = -h.
fn polynomial(centre: f64) -> [f64; TERMS] {
    let q = norm_sf(centre);
    let mut hazard = [0.0; TERMS];
    hazard[0] = norm_pdf(centre) / q;
    for n in 0..TERMS - 1 {
        let square: f64 = (0..=n).map(|i| hazard[i] * hazard[n - i]).sum();
        let before = n.checked_sub(1).map_or(0.0, |before| hazard[before]);
        hazard[n + 1] = (square - centre * hazard[n] - before) / (n + 1) as f64;
    }
    let mut log = [0.0; TERMS];
    log[0] = if centre < 0.0 {
        (-norm_sf(-centre)).ln_1p()
    } else {
        q.ln()
    };
    for n in 1..TERMS {
        log[n] = -hazard[n - 1] / n as f64;
    }
    log
}

/// Inside (-NEAR, NEAR).
fn near_tail(z: f64) -> UpperTail {
    let place = ((z + NEAR) * A_UNIT).round();
    let polynomial = &POLYNOMIALS[place as usize];
    let step = z - (place / A_UNIT - NEAR);
    let (mut value, mut slope) = (0.0, 0.0);
    for coefficient in polynomial.iter().rev() {
        slope = slope * step + value;
        value = value * step + coefficient;
    }
    // Far to the left the slope is the small difference of its terms.
    let hazard = if z < -1.0 {
        (log_density(z).value - value).exp()
    } else {
        -slope
    };
    UpperTail {
        value,
        hazard,
        excess: hazard - z,
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

    #[test]
    fn polynomials_agree_with_the_tail_itself() {
        let same = |a: f64, b: f64, z: f64| assert!((a / b - 1.0).abs() < 4e-14, "{z}: {a} {b}");
        for i in -16_200..16_200 {
            let z = f64::from(i) / 2000.0 + 1e-5;
            let (tail, q) = (upper_tail(z), norm_sf(z));
            let log = if z < 0.0 {
                (-norm_sf(-z)).ln_1p()
            } else {
                q.ln()
            };
            // Beside 1 what is left out of so small a logarithm is nothing, and below -8 a short series is enough.
            let slack = 1e-14 * log.abs() + if z > -NEAR { 1e-20 } else { 1e-19 };
            assert!(
                (tail.value - log).abs() < slack,
                "{z}: {} {log}",
                tail.value
            );
            same(tail.hazard, norm_pdf(z) / q, z);
            same(tail.excess, tail.hazard - z, z);
        }
    }

    #[test]
    fn the_tail_has_no_steps_where_its_ways_meet() {
        for z in [-NEAR, -1.0, -1.0 / 16.0, 1.0 / 16.0, 3.0 + 1.0 / 16.0, NEAR] {
            let (below, above) = (upper_tail(z - 1e-12), upper_tail(z));
            let slack = 1e-14 * (1.0 + z * z);
            assert!(
                (below.value - above.value).abs() < 1e-11 * above.hazard + slack,
                "{z}"
            );
            assert!((below.hazard - above.hazard).abs() < 1e-11 + slack, "{z}");
        }
    }
}
