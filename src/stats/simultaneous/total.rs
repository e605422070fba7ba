//! The sum of the counts, and the tables whose intervals need no method.

use crate::stats::error::Error;
use crate::stats::interval::{Interval, outside};

/// What the counts add up to.
pub(super) enum Total {
    /// Counts to work with.
    Known(u64),
    /// One cell, or no count: the intervals are known.
    Trivial(Vec<Interval>),
}

/// Checks level and counts and adds them up.
pub(super) fn total(counts: &[u64], level: f64) -> Result<Total, Error> {
    outside(level)?;
    match counts {
        [] => Err(Error::Input {
            name: "counts",
            requirement: "must hold at least one cell",
        }),
        [_] => Ok(Total::Trivial(vec![Interval {
            lower: 1.0,
            upper: 1.0,
        }])),
        _ => match counts.iter().try_fold(0_u64, |sum, &x| sum.checked_add(x)) {
            None => Err(Error::Input {
                name: "counts",
                requirement: "their sum must fit 64 bits",
            }),
            Some(0) => Ok(Total::Trivial(vec![
                Interval {
                    lower: 0.0,
                    upper: 1.0
                };
                counts.len()
            ])),
            Some(n) => Ok(Total::Known(n)),
        },
    }
}
