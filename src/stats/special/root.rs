//! Newton's method held inside a bracket: never leaves it, never runs on.

/// Steps after which the search gives up; bisection alone would reach full precision in fewer.
const MAX_STEPS: usize = 200;

/// The root, between the two ends of `bracket`, of an increasing function given as (value, derivative).
///
/// A step that would leave what is left of the bracket is replaced by halving it. `None` if a value is NaN or the bound on
/// steps is reached.
pub fn bracketed_newton(
    function: impl Fn(f64) -> (f64, f64),
    bracket: (f64, f64),
    start: f64,
) -> Option<f64> {
    let (mut low, mut high) = bracket;
    let mut x = if start > low && start < high {
        start
    } else {
        0.5 * (low + high)
    };
    for _ in 0..MAX_STEPS {
        let (value, slope) = function(x);
        if value.is_nan() {
            return None;
        }
        if value == 0.0 {
            return Some(x);
        }
        if value < 0.0 {
            low = x;
        } else {
            high = x;
        }
        let newton = x - value / slope;
        let next = if newton > low && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
        if (next - x).abs() <= 2.0 * f64::EPSILON * x.abs().max(f64::MIN_POSITIVE)
            || next == low
            || next == high
        {
            return Some(next);
        }
        x = next;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_roots_from_poor_starts() {
        // x^3 = 2; Newton alone from 1e-3 would jump to 6.7e5.
        let cube = |x: f64| (x * x * x - 2.0, 3.0 * x * x);
        for start in [1e-3, 1.0, 99.0, 1e9] {
            let root = bracketed_newton(cube, (0.0, 100.0), start).unwrap();
            assert!((root - 2f64.cbrt()).abs() < 1e-15, "{root}");
        }
    }

    #[test]
    fn a_flat_function_is_bisected_and_nan_is_refused() {
        let step = |x: f64| (if x < 0.3 { -1.0 } else { 1.0 }, 0.0);
        assert!((bracketed_newton(step, (0.0, 1.0), 0.9).unwrap() - 0.3).abs() < 1e-15);
        assert_eq!(bracketed_newton(|_| (f64::NAN, 1.0), (0.0, 1.0), 0.5), None);
    }
}
