//! Student's t distribution, through the incomplete beta function.

use super::beta::{BetaShape, UnitPoint};
use super::normal::{norm_isf, norm_sf};
use super::saddle::Side;

/// Probability below `t` with `df` > 0 degrees of freedom (need not be whole; infinite gives the normal).
pub fn student_t_cdf(t: f64, df: f64) -> f64 {
    student_t_sf(-t, df)
}

/// Probability above `t`, with its own relative accuracy.
pub fn student_t_sf(t: f64, df: f64) -> f64 {
    if df == f64::INFINITY {
        return norm_sf(t);
    }
    if df.is_nan() || df <= 0.0 || t.is_nan() {
        return f64::NAN;
    }
    if t == 0.0 {
        return 0.5;
    }
    let squared = t * t;
    // P(|T| > |t|) = I_x(df/2, 1/2) at x = df / (df + t^2); the quotients are arranged so that t^2 may overflow.
    let at = if squared > df {
        UnitPoint {
            x: (df / squared) / (1.0 + df / squared),
            y: 1.0 / (1.0 + df / squared),
        }
    } else {
        UnitPoint {
            x: 1.0 / (1.0 + squared / df),
            y: (squared / df) / (1.0 + squared / df),
        }
    };
    let tails = BetaShape::new(df / 2.0, 0.5).tails(at);
    if t > 0.0 {
        0.5 * tails.lower
    } else {
        0.5 + 0.5 * tails.upper
    }
}

/// The t with probability `p` below it; infinite at 0 and 1, NaN outside [0, 1].
pub fn student_t_quantile(p: f64, df: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if df == f64::INFINITY {
        return if p <= 0.5 {
            -norm_isf(p)
        } else {
            norm_isf(1.0 - p)
        };
    }
    let tail = p.min(1.0 - p);
    // t^2 / df = y / x at the point where both tails together hold 2 * tail.
    let at = BetaShape::new(df / 2.0, 0.5).quantile(Side::Lower, 2.0 * tail);
    let t = (df * at.y).sqrt() / at.x.sqrt();
    if p < 0.5 { -t } else { t }
}
