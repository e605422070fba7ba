//! The central interval of a sample too small for its order statistics: biweight centre and spread, outliers weighed down.

use super::error::Error;
use super::interval::tail;
use super::quantile::median;
use super::special::student_t_quantile;

/// Cut-off of the centre, in scaled median absolute deviations.
const CENTRE_CUT: f64 = 3.7;
/// Cut-off of the spread.
const SPREAD_CUT: f64 = 205.6;
/// Median absolute deviation over standard deviation of a normal sample.
const NORMAL_MAD: f64 = 0.6745;
/// Re-weighting steps; each shrinks the error by a third or so.
const MOST_STEPS: usize = 200;

/// A robust centre and the central interval about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RobustInterval {
    /// Biweight location.
    pub centre: f64,
    /// Lower limit of the central share.
    pub lower: f64,
    /// Upper limit of the central share.
    pub upper: f64,
}

/// The central `share` of the population that `values` come from, by the robust method of reference-interval guidance.
///
/// Centre T: biweight location with weights `(1 - u^2)^2`, `u = (x - T) / (3.7 MAD / 0.6745)`, repeated until it stands.
/// Spread: biweight scales about the median (cut-off 205.6) and about T (cut-off 3.7); the limits are
/// `T -+ t sqrt(s^2 + s_T^2)` with t the Student quantile of n - 1 degrees of freedom. Supposes a roughly symmetric population.
/// Horn & Pesce 2003, Clin Chim Acta 334:5; Horn, Pesce & Copeland 1998, Clin Chem 44:622 (from memory).
///
/// `None` where the method finds no spread: more than half of the values are equal.
///
/// # Errors
/// Fewer than two values, one that is not finite, a share outside (0, 1).
pub fn robust_interval(values: &[f64], share: f64) -> Result<Option<RobustInterval>, Error> {
    let alpha = tail(share)?;
    if values.len() < 2 || values.iter().any(|x| !x.is_finite()) {
        return Err(Error::Input {
            name: "values",
            requirement: "at least two finite values",
        });
    }
    let mut scratch = values.to_vec();
    let middle = median(&mut scratch).unwrap_or(f64::NAN);
    for (s, x) in scratch.iter_mut().zip(values) {
        *s = (x - middle).abs();
    }
    let mad = median(&mut scratch).unwrap_or(f64::NAN) / NORMAL_MAD;
    if mad <= 0.0 {
        return Ok(None);
    }
    let centre = location(values, middle, mad);
    let n = values.len() as f64;
    let wide = SPREAD_CUT * mad;
    let spread_squared = wide * wide * n * scale(values, middle, wide);
    let narrow = CENTRE_CUT * mad;
    let narrow = CENTRE_CUT * narrow * (n * scale(values, middle, narrow)).sqrt();
    let of_centre_squared = narrow * narrow * scale(values, centre, narrow);
    let reach = -student_t_quantile(alpha, n - 1.0) * (spread_squared + of_centre_squared).sqrt();
    // Values so far from the median that their weights cancel leave no spread either.
    Ok(reach.is_finite().then_some(RobustInterval {
        centre,
        lower: centre - reach,
        upper: centre + reach,
    }))
}

/// Biweight location, begun at the median.
fn location(values: &[f64], start: f64, mad: f64) -> f64 {
    let cut = CENTRE_CUT * mad;
    let mut centre = start;
    for _ in 0..MOST_STEPS {
        let (mut sum, mut weights) = (0.0, 0.0);
        for x in values {
            let u = (x - centre) / cut;
            if u.abs() < 1.0 {
                let w = (1.0 - u * u).powi(2);
                // About the centre, so that large values do not cancel.
                sum += w * (x - centre);
                weights += w;
            }
        }
        if weights <= 0.0 {
            return centre;
        }
        let step = sum / weights;
        centre += step;
        if step.abs() <= 1e-7 * mad {
            break;
        }
    }
    centre
}

/// `sum (1 - u^2)^4 u^2 / (D max(1, D - 1))` with `D = sum (1 - u^2)(1 - 5 u^2)`, over `|u| < 1`.
fn scale(values: &[f64], about: f64, cut: f64) -> f64 {
    let (mut numerator, mut divisor) = (0.0, 0.0);
    for x in values {
        let square = ((x - about) / cut).powi(2);
        if square < 1.0 {
            numerator += (1.0 - square).powi(4) * square;
            divisor += (1.0 - square) * (1.0 - 5.0 * square);
        }
    }
    numerator / (divisor * (divisor - 1.0).max(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moves_and_scales_with_the_values() {
        let values = [9.0, 10.0, 10.5, 11.0, 9.5, 10.2, 30.0];
        let one = robust_interval(&values, 0.95).unwrap().unwrap();
        let moved: Vec<f64> = values.iter().map(|x| 6.9 * x + 100.0).collect();
        let other = robust_interval(&moved, 0.95).unwrap().unwrap();
        for (a, b) in [(one.lower, other.lower), (one.upper, other.upper)] {
            assert!((6.9 * a + 100.0 - b).abs() < 1e-5, "{a} {b}");
        }
        // The value at 30 hardly moves the centre.
        assert!((one.centre - 10.0).abs() < 0.3, "{}", one.centre);
    }

    #[test]
    fn no_spread_is_said() {
        assert_eq!(robust_interval(&[5.0; 40], 0.95), Ok(None));
        assert!(robust_interval(&[5.0], 0.95).is_err());
        assert!(robust_interval(&[5.0, f64::NAN], 0.95).is_err());
    }
}
