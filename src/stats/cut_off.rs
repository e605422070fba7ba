//! The value that best separates two samples.

use super::diagnostic_accuracy::TwoByTwo;
use super::error::Error;

/// A cut-off: at or below it counts as positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutOff {
    /// The cut-off, halfway between two neighbouring values of either sample.
    pub value: f64,
    /// What it makes of the two samples.
    pub counts: TwoByTwo,
    /// Youden's index there.
    pub youden: f64,
}

/// The cut-off with the greatest Youden index, where `present` tends to lie below `absent`.
///
/// Candidates lie halfway between neighbouring distinct values, so that none rests on one value's last digit. Among equal
/// indices the one with the greater specificity is taken, then the lowest. `None` where no cut-off does better than chance: the
/// index is 0 or less everywhere, or one sample is empty. Chosen on the data it is judged on, it looks better than it is.
/// Youden 1950, Cancer 3:32.
///
/// # Errors
/// A value that is not a number.
pub fn youden_cut_off(present: &[f64], absent: &[f64]) -> Result<Option<CutOff>, Error> {
    let mut values: Vec<(f64, bool)> = present
        .iter()
        .map(|x| (*x, true))
        .chain(absent.iter().map(|x| (*x, false)))
        .collect();
    if values.iter().any(|v| v.0.is_nan()) {
        return Err(Error::Input {
            name: "present, absent",
            requirement: "numbers only",
        });
    }
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (n1, n0) = (present.len() as u64, absent.len() as u64);
    let mut best: Option<CutOff> = None;
    let (mut hits, mut alarms) = (0u64, 0u64);
    for pair in values.windows(2) {
        let [(here, of_present), (next, _)] = pair else {
            continue;
        };
        hits += u64::from(*of_present);
        alarms += u64::from(!of_present);
        if here == next {
            continue;
        }
        let counts = TwoByTwo {
            true_positive: hits,
            false_positive: alarms,
            false_negative: n1 - hits,
            true_negative: n0 - alarms,
        };
        // Compared as whole numbers: hits/n1 - alarms/n0 times n1 n0.
        let gain = |c: &TwoByTwo| {
            i128::from(c.true_positive) * i128::from(n0)
                - i128::from(c.false_positive) * i128::from(n1)
        };
        let better = best
            .as_ref()
            .map_or(gain(&counts) > 0, |b| gain(&counts) > gain(&b.counts));
        if better {
            best = Some(CutOff {
                value: here + (next - here) / 2.0,
                counts,
                youden: counts.youden()?,
            });
        }
    }
    Ok(best)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(present: &[f64], absent: &[f64]) -> Option<CutOff> {
        youden_cut_off(present, absent).unwrap()
    }

    #[test]
    fn by_hand() {
        // Below 0.75: both 0.6 and 0.7, and none of the others; 0.9 is missed.
        let found = cut(&[0.6, 0.7, 0.9], &[0.8, 0.85, 1.0, 1.1]).unwrap();
        assert!((found.value - 0.75).abs() < 1e-15);
        assert_eq!(
            (found.counts.true_positive, found.counts.false_positive),
            (2, 0)
        );
        assert!((found.youden - 2.0 / 3.0).abs() < 1e-15);
    }

    #[test]
    fn among_equals_the_more_specific_one() {
        // Below 2: 1 of 2 and 0 of 2. Below 4: 2 of 2 and 1 of 2. Both have index 1/2.
        let found = cut(&[1.0, 4.0], &[3.0, 5.0]).unwrap();
        assert_eq!(found.value, 2.0);
    }

    #[test]
    fn no_separation_is_said() {
        assert_eq!(cut(&[], &[1.0]), None);
        assert_eq!(cut(&[1.0], &[]), None);
        assert_eq!(cut(&[2.0, 2.0], &[2.0]), None);
        assert_eq!(cut(&[5.0], &[1.0, 2.0]), None);
        assert!(youden_cut_off(&[f64::NAN], &[1.0]).is_err());
    }
}
