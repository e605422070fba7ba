//! A zero of a continuous function inside a bracket, in a bounded number of steps.

use super::error::Error;

/// Most evaluations of the function.
const MOST_STEPS: usize = 200;

/// The zero of `f` between `low` and `high`, where its signs differ, to the last digits of `x`.
///
/// Brent's method: inverse quadratic and secant steps, kept honest by bisection (Brent 1973, Algorithms for Minimization
/// without Derivatives, chapter 4).
///
/// # Errors
/// Equal signs at both ends, a value that is not a number, or no end within 200 evaluations; `what` names the quantity.
pub fn bracketed_root(
    what: &'static str,
    low: f64,
    high: f64,
    mut f: impl FnMut(f64) -> f64,
) -> Result<f64, Error> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Ok(a);
    }
    if fb == 0.0 {
        return Ok(b);
    }
    if fa.is_nan() || fb.is_nan() || (fa > 0.0) == (fb > 0.0) {
        return Err(Error::NotConverged {
            what,
            iterations: MOST_STEPS,
        });
    }
    let (mut c, mut fc) = (a, fa);
    let (mut step, mut before) = (b - a, b - a);
    for _ in 0..MOST_STEPS {
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let tolerance = 2.0 * f64::EPSILON * b.abs() + f64::MIN_POSITIVE;
        let half = 0.5 * (c - b);
        if half.abs() <= tolerance || fb == 0.0 {
            return Ok(b);
        }
        if before.abs() >= tolerance && fa.abs() > fb.abs() {
            let (mut p, mut q) = interpolate((a, fa), (b, fb), (c, fc), half);
            if p > 0.0 {
                q = -q;
            }
            p = p.abs();
            if 2.0 * p < (3.0 * half * q - (tolerance * q).abs()).min((before * q).abs()) {
                (before, step) = (step, p / q);
            } else {
                (before, step) = (half, half);
            }
        } else {
            (before, step) = (half, half);
        }
        (a, fa) = (b, fb);
        b += if step.abs() > tolerance {
            step
        } else {
            tolerance.copysign(half)
        };
        fb = f(b);
        if fb.is_nan() {
            return Err(Error::NotConverged {
                what,
                iterations: MOST_STEPS,
            });
        }
        if (fb > 0.0) == (fc > 0.0) {
            (c, fc) = (a, fa);
            (step, before) = (b - a, b - a);
        }
    }
    Err(Error::NotConverged {
        what,
        iterations: MOST_STEPS,
    })
}

/// Numerator and denominator of the next step from `b`.
fn interpolate(
    (a, fa): (f64, f64),
    (b, fb): (f64, f64),
    (c, fc): (f64, f64),
    half: f64,
) -> (f64, f64) {
    let s = fb / fa;
    if a == c {
        return (2.0 * half * s, 1.0 - s);
    }
    let (q, r) = (fa / fc, fb / fc);
    (
        s * (2.0 * half * q * (q - r) - (b - a) * (r - 1.0)),
        (q - 1.0) * (r - 1.0) * (s - 1.0),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Closed forms: square root, arc cosine, a flat cubic, a step.
    #[test]
    fn finds_zeros_to_the_last_digits() {
        let root = |low, high, f: fn(f64) -> f64| bracketed_root("test", low, high, f).unwrap();
        assert_relative_eq!(
            root(0.0, 2.0, |x| x * x - 2.0),
            2.0_f64.sqrt(),
            max_relative = 1e-15
        );
        assert_relative_eq!(
            root(2.0, 0.0, |x| x.cos()),
            std::f64::consts::FRAC_PI_2,
            max_relative = 1e-15
        );
        assert!((root(-1.0, 4.0, |x| (x - 1.0).powi(3)) - 1.0).abs() < 1e-6);
        assert_relative_eq!(
            root(0.0, 1.0, |x| if x < 0.3 { -1.0 } else { 1.0 }),
            0.3,
            max_relative = 1e-14
        );
        assert_relative_eq!(
            root(-700.0, 700.0, |x| x.exp() - 1e-100),
            -100.0 * 10.0_f64.ln(),
            max_relative = 1e-14
        );
        assert_eq!(root(0.0, 1.0, |x| x), 0.0);
    }

    #[test]
    fn refuses_what_has_no_bracket() {
        assert!(bracketed_root("test", 1.0, 2.0, |x| x).is_err());
        assert!(bracketed_root("test", -1.0, 2.0, |_| f64::NAN).is_err());
    }
}
