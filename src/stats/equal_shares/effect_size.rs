//! How far the shares are from the supposed ones, apart from how sure one can be of it.

use super::chi_square::chi_square;
use crate::stats::error::Error;

/// Size of the departure of observed shares from supposed ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EffectSize {
    /// Cohen's w of the observed shares, `sqrt(sum (share - supposed)^2 / supposed)`.
    pub w: f64,
    /// The same without the part that chance alone brings, `sqrt(max(0, w^2 - (cells - 1) / n))`: with few counts `w`
    /// is large even where shares are equal.
    pub w_corrected: f64,
    /// In words, from the corrected value.
    pub magnitude: Magnitude,
}

/// Cohen's convention for w: 0.1 small, 0.3 medium, 0.5 large.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Magnitude {
    /// Below 0.1.
    Negligible,
    /// From 0.1.
    Small,
    /// From 0.3.
    Medium,
    /// From 0.5.
    Large,
}

impl Magnitude {
    fn of(w: f64) -> Self {
        match w {
            w if w >= 0.5 => Self::Large,
            w if w >= 0.3 => Self::Medium,
            w if w >= 0.1 => Self::Small,
            _ => Self::Negligible,
        }
    }

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Negligible => "negligible",
            Self::Small => "small",
            Self::Medium => "medium",
            Self::Large => "large",
        }
    }
}

/// Cohen's w of `counts` against `shares` (Cohen 1988, Statistical Power Analysis, eq. 7.2.1); `None` without counts.
///
/// With equal supposed shares over k cells, w = 0.5 means for k = 4 that one cell has about 47 % and the others 18 % each.
///
/// # Errors
/// As [`chi_square`].
pub fn effect_size(counts: &[u64], shares: &[f64]) -> Result<Option<EffectSize>, Error> {
    let fit = chi_square(counts, shares)?;
    let n: f64 = fit.expected.iter().sum();
    if n <= 0.0 {
        return Ok(None);
    }
    let square = fit.statistic / n;
    let w_corrected = (square - fit.degrees as f64 / n).max(0.0).sqrt();
    Ok(Some(EffectSize {
        w: square.sqrt(),
        w_corrected,
        magnitude: Magnitude::of(w_corrected),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Closed form: shares 1/2, 1/6, 1/6, 1/6 against 1/4 have w^2 = 4 (1/16 + 3/144) = 1/3.
    #[test]
    fn cohens_w_of_known_shares() {
        let size = effect_size(&[3000, 1000, 1000, 1000], &[0.25; 4])
            .unwrap()
            .unwrap();
        assert_relative_eq!(size.w, (1.0_f64 / 3.0).sqrt(), max_relative = 1e-14);
        assert_relative_eq!(
            size.w_corrected,
            (1.0_f64 / 3.0 - 3.0 / 6000.0).sqrt(),
            max_relative = 1e-14
        );
        assert_eq!(size.magnitude, Magnitude::Large);
        // The example of the doc comment.
        let example = effect_size(&[4665, 1778, 1778, 1779], &[0.25; 4])
            .unwrap()
            .unwrap();
        assert_relative_eq!(example.w, 0.5, max_relative = 1e-3);
    }

    #[test]
    fn few_counts_alone_are_no_effect() {
        let size = effect_size(&[2, 1, 1, 0], &[0.25; 4]).unwrap().unwrap();
        assert!(size.w > 0.7 && size.w_corrected == 0.0 && size.magnitude == Magnitude::Negligible);
        assert_eq!(effect_size(&[0, 0], &[0.5, 0.5]).unwrap(), None);
        assert_eq!(effect_size(&[9], &[1.0]).unwrap().unwrap().w, 0.0);
    }
}
