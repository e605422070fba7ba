//! Quantiles of a sample: the nine definitions in use, since programs differ and a limit must say which one it is.

use super::error::Error;

/// The definitions of Hyndman & Fan 1996 (Am Stat 50:361), numbered as there.
///
/// With `h = n p + m`, `j = floor(h)` and `g = h - j` the quantile is `(1 - w) x[j] + w x[j + 1]`, ranks from 1 and kept within 1..n.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum QuantileType {
    /// 1: inverse of the empirical distribution; m = 0, w = 0 at g = 0, else 1.
    InverseDistribution,
    /// 2: the same, averaged where it jumps; w = 1/2 at g = 0.
    AveragedInverse,
    /// 3: nearest order statistic, even rank at ties; m = -1/2.
    NearestEven,
    /// 4: m = 0, w = g.
    LinearInverse,
    /// 5: m = 1/2 (Hazen).
    Hazen,
    /// 6: m = p, position p (n + 1) (Weibull); the convention of reference intervals.
    Weibull,
    /// 7: m = 1 - p, the default of R and numpy.
    Mode,
    /// 8: m = (p + 1) / 3, about median-unbiased for every distribution.
    MedianUnbiased,
    /// 9: m = p / 4 + 3 / 8, about unbiased for the normal distribution.
    NormalUnbiased,
}

impl QuantileType {
    /// All nine, in their order.
    pub const ALL: [QuantileType; 9] = [
        Self::InverseDistribution,
        Self::AveragedInverse,
        Self::NearestEven,
        Self::LinearInverse,
        Self::Hazen,
        Self::Weibull,
        Self::Mode,
        Self::MedianUnbiased,
        Self::NormalUnbiased,
    ];

    fn shift(self, p: f64) -> f64 {
        match self {
            Self::InverseDistribution | Self::AveragedInverse | Self::LinearInverse => 0.0,
            Self::NearestEven => -0.5,
            Self::Hazen => 0.5,
            Self::Weibull => p,
            Self::Mode => 1.0 - p,
            Self::MedianUnbiased => (p + 1.0) / 3.0,
            Self::NormalUnbiased => p / 4.0 + 0.375,
        }
    }

    /// Weight of the order statistic above `j`.
    fn weight(self, j: f64, g: f64) -> f64 {
        match self {
            Self::InverseDistribution => f64::from(u8::from(g > 0.0)),
            Self::AveragedInverse if g == 0.0 => 0.5,
            Self::AveragedInverse => 1.0,
            Self::NearestEven if g == 0.0 && j % 2.0 == 0.0 => 0.0,
            Self::NearestEven => 1.0,
            _ => g,
        }
    }
}

/// The `p`-quantile of values in ascending order.
///
/// A position within 4 units in the last place of a whole rank is that rank, as in R, so that 0.1 x 10 is rank 1.
///
/// # Errors
/// No value; `p` outside [0, 1].
pub fn quantile(sorted: &[f64], p: f64, kind: QuantileType) -> Result<f64, Error> {
    let (Some(&least), Some(&greatest)) = (sorted.first(), sorted.last()) else {
        return Err(Error::Input {
            name: "sorted",
            requirement: "at least one value",
        });
    };
    if !(0.0..=1.0).contains(&p) {
        return Err(Error::Parameter {
            name: "p",
            value: p,
            requirement: "must lie in [0, 1]",
        });
    }
    let h = sorted.len() as f64 * p + kind.shift(p);
    let fuzz = 4.0 * f64::EPSILON * h.abs().max(1.0);
    let j = (h + fuzz).floor();
    let g = if (h - j).abs() < fuzz { 0.0 } else { h - j };
    let w = kind.weight(j, g);
    let at = |rank: f64| {
        if rank < 1.0 {
            least
        } else {
            // Within 1..n here, so the cast is exact.
            sorted.get(rank as usize - 1).copied().unwrap_or(greatest)
        }
    };
    Ok(match w {
        0.0 => at(j),
        1.0 => at(j + 1.0),
        // Exact where both are equal.
        w => at(j) + w * (at(j + 1.0) - at(j)),
    })
}

/// The middle value, or the mean of the two middle ones; `None` without a value. The order of `values` changes.
pub fn median(values: &mut [f64]) -> Option<f64> {
    let n = values.len();
    if n == 0 {
        return None;
    }
    let (below, &mut upper, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return Some(upper);
    }
    let lower = below.iter().copied().max_by(f64::total_cmp)?;
    Some(lower + (upper - lower) / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_single_value_is_every_quantile() {
        for kind in QuantileType::ALL {
            for p in [0.0, 0.025, 0.5, 1.0] {
                assert_eq!(quantile(&[3.0], p, kind), Ok(3.0), "{kind:?} {p}");
            }
        }
        assert!(quantile(&[], 0.5, QuantileType::Mode).is_err());
        assert!(quantile(&[1.0], f64::NAN, QuantileType::Mode).is_err());
    }

    #[test]
    fn median_of_few() {
        assert_eq!(median(&mut []), None);
        assert_eq!(median(&mut [2.0]), Some(2.0));
        assert_eq!(median(&mut [4.0, 1.0]), Some(2.5));
        assert_eq!(median(&mut [9.0, 1.0, 4.0]), Some(4.0));
        assert_eq!(median(&mut [9.0, 1.0, 4.0, 5.0]), Some(4.5));
    }
}
