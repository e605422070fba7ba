//! A starting chance with the weight it carries: the prior of one cell of the matrix.

use serde::Deserialize;

/// A chance in percent, weighing as much as `weight` cases of one's own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// Percent, above 0 and below 100.
    pub percent: f64,
    /// Equivalent sample size, above 0.
    pub weight: f64,
}

impl Chance {
    /// Beta prior `(a, b)` with a = weight x p and b = weight x (1 - p); add abnormal and normal counts to a and b.
    pub fn beta(self) -> (f64, f64) {
        let p = self.percent / 100.0;
        (self.weight * p, self.weight * (1.0 - p))
    }

    /// The chance as a probability.
    pub fn probability(self) -> f64 {
        self.percent / 100.0
    }
}

/// The weights behind the marks of a row: none, `w`, `s`.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Weights {
    pub plain: f64,
    pub weak: f64,
    pub strong: f64,
}

impl Weights {
    pub fn all_positive(&self) -> bool {
        [self.plain, self.weak, self.strong]
            .iter()
            .all(|w| w.is_finite() && *w > 0.0)
    }

    /// Reads one cell such as `85`, `12w` or `93s`.
    pub fn cell(&self, text: &str) -> Result<Chance, String> {
        let (number, weight) = match (text.strip_suffix('w'), text.strip_suffix('s')) {
            (Some(number), _) => (number, self.weak),
            (_, Some(number)) => (number, self.strong),
            _ => (text, self.plain),
        };
        let percent: f64 = number
            .parse()
            .map_err(|_| format!("{text:?} is not a percentage with w, s or nothing after it"))?;
        // A chance of 0 or 1 would let one wrong entry rule a cause out for ever.
        if !(percent > 0.0 && percent < 100.0) {
            return Err(format!("{text:?} is not above 0 and below 100 percent"));
        }
        Ok(Chance { percent, weight })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WEIGHTS: Weights = Weights {
        plain: 4.0,
        weak: 2.0,
        strong: 10.0,
    };

    #[test]
    fn reads_marks() {
        let plain = WEIGHTS.cell("85").expect("plain");
        assert_eq!((plain.percent, plain.weight), (85.0, 4.0));
        assert_eq!(WEIGHTS.cell("12w").expect("weak").weight, 2.0);
        assert_eq!(WEIGHTS.cell("93s").expect("strong").weight, 10.0);
        // Closed form: 4 x 0.85, 4 x 0.15.
        let (a, b) = plain.beta();
        assert!((a - 3.4).abs() < 1e-12 && (b - 0.6).abs() < 1e-12);
    }

    #[test]
    fn refuses_certainty_and_nonsense() {
        for text in ["0", "100", "-3", "x", "w", "85q", "NaN", "inf", ""] {
            assert!(WEIGHTS.cell(text).is_err(), "{text}");
        }
    }
}
