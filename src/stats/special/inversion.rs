//! Quantiles: the argument at which a tail has a given probability.
//!
//! Solved for v, the log (gamma, Poisson) or the log-odds (beta, binomial) of the argument, on h(v) = ln(tail) - ln(target).
//! A log-concave density makes h concave, so Newton's tangent never overshoots the root from the far side and a poor start
//! costs steps, not safety; here the step uses three derivatives (the density's are free) and is kept inside a bracket.

use super::saddle::Side;

/// Both tails at an argument and the density's local shape, all by v.
#[derive(Debug, Clone, Copy)]
pub struct Tails {
    /// Probability below.
    pub lower: f64,
    /// Probability above.
    pub upper: f64,
    /// d lower / dv.
    pub density: f64,
    /// d ln density / dv.
    pub slope: f64,
    /// d slope / dv.
    pub bend: f64,
}

/// Steps after which the search gives up; each at least halves a bracket or is a converging Newton step.
const MAX_STEPS: usize = 200;

/// Finds (v, correction) such that the tail on `side` has probability `target` at v + correction.
///
/// The correction is the last step, too small to be worth another evaluation; the caller applies it to the argument it
/// evaluated at v, which keeps digits that v + correction would round away. `centre` is a v well inside the distribution.
/// Returns NaN if the bound on steps is reached.
pub fn solve(
    side: Side,
    target: f64,
    start: f64,
    centre: f64,
    evaluate: impl Fn(f64) -> Tails,
) -> (f64, f64) {
    let log_target = target.ln();
    let sign = if side == Side::Lower { 1.0 } else { -1.0 };
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    let mut v = start;
    for _ in 0..MAX_STEPS {
        let at = evaluate(v);
        let tail = if side == Side::Lower {
            at.lower
        } else {
            at.upper
        };
        if !(tail > 0.0 && at.density > 0.0) {
            // Out where the tail (or the density beyond it) is below the smallest number: go half way back.
            if tail.is_nan() {
                return (f64::NAN, 0.0);
            }
            if v == centre {
                return (v, 0.0);
            }
            narrow(&mut low, &mut high, v, v < centre);
            v = 0.5 * (v + centre);
            continue;
        }
        let h = tail.ln() - log_target;
        narrow(&mut low, &mut high, v, sign * h < 0.0);
        let step = sign * correction(h, sign, at.density / tail, &at);
        let rate = at.density / tail + at.slope.abs();
        if (step * rate).abs() < 3e-4 && next_error(step, rate) < 1e-16 || step == 0.0 {
            return (v, step);
        }
        let next = v + step;
        let inside = next > low && next < high;
        v = if inside {
            next
        } else if low.is_finite() && high.is_finite() {
            0.5 * (low + high)
        } else {
            0.5 * (v + centre)
        };
        if v == low || v == high {
            return (v, 0.0);
        }
    }
    (f64::NAN, 0.0)
}

/// Size, in v, of what a fourth-order step of this size leaves.
fn next_error(step: f64, rate: f64) -> f64 {
    let scaled = (step * rate).abs();
    scaled * scaled * scaled * step.abs()
}

fn narrow(low: &mut f64, high: &mut f64, v: f64, root_is_above: bool) {
    if root_is_above {
        *low = low.max(v);
    } else {
        *high = high.min(v);
    }
}

/// The step towards the root of h in the direction in which the tail grows, from h and its three derivatives.
///
/// With hazard r = density / tail and sign s: h' = s r, and since d ln r = slope - s r: r' = r (slope - s r).
fn correction(h: f64, sign: f64, r: f64, at: &Tails) -> f64 {
    // Mirror a growing-downwards tail so that h' = r > 0 throughout.
    let slope = sign * at.slope;
    let (h1, h2) = (r, r * (slope - r));
    let h3 = h2 * (slope - r) + r * (at.bend - h2);
    let newton = h / h1;
    let c2 = h2 / (2.0 * h1);
    if (newton * c2).abs() < 0.05 && newton.abs() * r < 0.2 {
        let c3 = 2.0 * c2 * c2 - h3 / (6.0 * h1);
        return -newton * (1.0 + newton * (c2 + newton * c3));
    }
    let halley = 1.0 - newton * c2;
    -newton / if halley > 0.5 { halley } else { 1.0 }
}
