//! The rules of thumb of the trade for readings of one set. Common practice, no source: printed as such, never as a specification.

use crate::stats::quantile::median;

/// Where every rule here comes from.
pub const MARK: &str = "common practice, no source; the vehicle maker's value comes first";

/// A rule over the readings of one engine, in canonical units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Practice {
    /// In words.
    pub text: &'static str,
    kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    /// Each at least this share of the highest.
    OfHighest(f64),
    /// All within this much of each other; the odd one is further than that from the middle of the set.
    OfEachOther(f64),
    /// Each within this share of the median of the set.
    OfMedian(f64),
    /// Each at most the first, and at most the second above the median of the set.
    AtMost(f64, f64),
    /// Each at most this share below the mean of the others.
    BelowMeanOfOthers(f64),
}

/// The rule for a test, where there is one.
pub fn practice(test: &str) -> Option<Practice> {
    let rule = |text, kind| Some(Practice { text, kind });
    match test {
        "cranking_compression" => rule(
            "the lowest cylinder reads at least 75 % of the highest",
            Kind::OfHighest(0.75),
        ),
        "relative_compression" => rule(
            "no cylinder reads more than 15 % below the mean of the others",
            Kind::BelowMeanOfOthers(0.15),
        ),
        "cylinder_leakage" => rule(
            "no cylinder leaks more than 20 %, or more than 10 points above the median of the set",
            Kind::AtMost(20.0, 10.0),
        ),
        "injector_resistance" => rule(
            "injectors of one kind read within about an ohm of each other",
            Kind::OfEachOther(1.0),
        ),
        "coil_resistance" => rule(
            "coils of one kind read within 10 % of the set",
            Kind::OfMedian(0.10),
        ),
        "injector_balance" => rule(
            "every injector drops the pressure within 10 % of the set",
            Kind::OfMedian(0.10),
        ),
        _ => None,
    }
}

/// Rounding of a display must not break a rule that is kept exactly.
const SLACK: f64 = 1e-9;

impl Practice {
    /// Whether the set keeps the rule, and which readings break it: none where it is broken and the set does not say by which.
    pub fn judge(&self, values: &[f64]) -> (bool, Vec<bool>) {
        let middle = median(&mut values.to_vec()).unwrap_or(0.0);
        let highest = values.iter().copied().fold(0.0, f64::max);
        let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
        let slack = SLACK * highest;
        let breaks = |x: &f64, i: usize| match self.kind {
            Kind::OfHighest(share) => *x < share * highest - slack,
            // The middle of two lies between them and accuses neither.
            Kind::OfEachOther(reach) => values.len() > 2 && (x - middle).abs() > reach + slack,
            Kind::OfMedian(share) => {
                values.len() > 2 && (x - middle).abs() > share * middle + slack
            }
            Kind::AtMost(most, above) => *x > most + slack || *x - middle > above + slack,
            Kind::BelowMeanOfOthers(share) => {
                let others = values.iter().enumerate().filter(|(j, _)| *j != i);
                let sum: f64 = others.map(|(_, y)| y).sum();
                let mean = sum / (values.len().max(2) - 1) as f64;
                *x < (1.0 - share) * mean - slack
            }
        };
        let broken: Vec<bool> = values
            .iter()
            .enumerate()
            .map(|(i, x)| breaks(x, i))
            .collect();
        let kept = match self.kind {
            Kind::OfEachOther(reach) => highest - lowest <= reach + slack,
            Kind::OfMedian(share) if values.len() == 2 => {
                highest - lowest <= 2.0 * share * middle + slack
            }
            _ => !broken.contains(&true),
        };
        (kept, broken)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(test: &str, values: &[f64]) -> (bool, Vec<bool>) {
        practice(test).expect("a rule").judge(values)
    }

    /// Common practice, no source: 90 against 140 psi is far below three quarters, 105 of 140 is exactly three quarters.
    #[test]
    fn compression_against_the_highest() {
        let psi = |x: f64| x * 6.894_757_293_168_361;
        let low = judged("cranking_compression", &[psi(90.0), psi(140.0)]);
        assert_eq!(low, (false, vec![true, false]));
        let edge = judged("cranking_compression", &[psi(105.0), psi(140.0)]);
        assert_eq!(edge, (true, vec![false, false]));
    }

    /// Common practice, no source: within about an ohm of each other nobody is accused.
    #[test]
    fn injectors_within_an_ohm() {
        assert!(judged("injector_resistance", &[12.1, 12.4, 13.0, 12.2]).0);
        let open = judged("injector_resistance", &[12.1, 12.4, 480.0, 12.2]);
        assert_eq!(open, (false, vec![false, false, true, false]));
        // Two that differ: the set does not say which.
        assert_eq!(
            judged("injector_resistance", &[12.0, 480.0]),
            (false, vec![false, false])
        );
    }

    #[test]
    fn leakage_and_relative_compression() {
        let leaks = judged("cylinder_leakage", &[8.0, 7.0, 35.0, 19.0]);
        assert_eq!(leaks, (false, vec![false, false, true, false]));
        let weak = judged("relative_compression", &[101.0, 100.0, 80.0, 99.0]);
        assert_eq!(weak, (false, vec![false, false, true, false]));
        assert_eq!(
            judged("coil_resistance", &[0.75, 0.74, 0.90]).1,
            [false, false, true]
        );
        assert_eq!(practice("borescope"), None);
    }
}
