//! How much more often one value is met in one population than in another, judged by the recorded values nearest to it.

use super::error::Error;
use super::interval::{Interval, normal_deviate};

/// Fewest recorded values that are looked at.
const FEWEST: usize = 10;

/// A likelihood ratio with what it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeighbourRatio {
    /// Share of `present` near the value over the share of `absent`, both with half a case added.
    pub value: f64,
    /// Limits on the logarithm.
    pub interval: Interval,
    /// Values of `present` that are near.
    pub near_present: u64,
    /// Values of `absent` that are near.
    pub near_absent: u64,
}

/// Likelihood ratio of `value` from the k nearest recorded values of both samples together, `k = max(10, sqrt(n1 + n0))`; values as
/// far away as the k-th are near as well, so that the order of ties does not matter.
///
/// With k1 of n1 and k0 of n0 near: ratio = ((k1 + 1/2)/(n1 + 1)) / ((k0 + 1/2)/(n0 + 1)), limits on its logarithm with variance
/// 1/(k1 + 1/2) - 1/(n1 + 1) + 1/(k0 + 1/2) - 1/(n0 + 1). Which values are near is settled without looking at which sample they are of.
/// The half cases keep the ratio finite and pull it towards 1 the more the fewer there are. Nearest-neighbour densities:
/// Loftsgaarden & Quesenberry 1965, Ann Math Stat 36:1049; limits: Simel, Samsa & Matchar 1991, J Clin Epidemiol 44:763.
///
/// `None` where a sample is empty.
///
/// # Errors
/// A value that is not finite; a level outside (0, 1).
pub fn neighbour_likelihood_ratio(
    value: f64,
    present: &[f64],
    absent: &[f64],
    level: f64,
) -> Result<Option<NeighbourRatio>, Error> {
    let z = normal_deviate(level)?;
    let finite = |x: &f64| x.is_finite();
    if !(finite(&value) && present.iter().all(finite) && absent.iter().all(finite)) {
        return Err(Error::Input {
            name: "value, present, absent",
            requirement: "finite numbers only",
        });
    }
    if present.is_empty() || absent.is_empty() {
        return Ok(None);
    }
    let mut distances: Vec<f64> = present
        .iter()
        .chain(absent)
        .map(|x| (x - value).abs())
        .collect();
    let n = distances.len();
    let k = FEWEST.max((n as f64).sqrt().ceil() as usize).min(n);
    let (_, &mut reach, _) = distances.select_nth_unstable_by(k - 1, f64::total_cmp);
    let near = |sample: &[f64]| {
        sample
            .iter()
            .filter(|x| (*x - value).abs() <= reach)
            .count()
    };
    let (k1, k0) = (near(present), near(absent));
    let share = |k: usize, n: usize| (k as f64 + 0.5) / (n as f64 + 1.0);
    let part = |k: usize, n: usize| 1.0 / (k as f64 + 0.5) - 1.0 / (n as f64 + 1.0);
    let ratio = share(k1, present.len()) / share(k0, absent.len());
    let spread = (part(k1, present.len()) + part(k0, absent.len())).sqrt();
    let reach = (z * spread).exp();
    Ok(Some(NeighbourRatio {
        value: ratio,
        interval: Interval {
            lower: ratio / reach,
            upper: ratio * reach,
        },
        near_present: k1 as u64,
        near_absent: k0 as u64,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        // 10 nearest to 0.6: the 4 low ones and the 6 lowest of the rest.
        let present = [0.5, 0.55, 0.6, 0.65];
        let absent: Vec<f64> = (0..20).map(|i| 0.9 + 0.01 * f64::from(i)).collect();
        let found = neighbour_likelihood_ratio(0.6, &present, &absent, 0.95)
            .unwrap()
            .unwrap();
        assert_eq!((found.near_present, found.near_absent), (4, 6));
        let expected = (4.5 / 5.0) / (6.5 / 21.0);
        assert!((found.value - expected).abs() < 1e-12);
        let variance: f64 = 1.0 / 4.5 - 1.0 / 5.0 + 1.0 / 6.5 - 1.0 / 21.0;
        let upper = expected * (1.959963984540054 * variance.sqrt()).exp();
        assert!((found.interval.upper / upper - 1.0).abs() < 1e-12);
    }

    #[test]
    fn ties_do_not_depend_on_their_order() {
        let (a, b) = ([1.0; 8], [1.0; 30]);
        let found = neighbour_likelihood_ratio(1.0, &a, &b, 0.95)
            .unwrap()
            .unwrap();
        assert_eq!((found.near_present, found.near_absent), (8, 30));
        assert!((found.value - 1.0).abs() < 0.1);
        assert_eq!(neighbour_likelihood_ratio(1.0, &[], &b, 0.95), Ok(None));
    }
}
