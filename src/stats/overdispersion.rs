//! Do sites differ more than chance makes them differ?
//!
//! An interval for a pooled rate that treats every event as independent is too narrow where sites have rates of their own.
//! Pearson's dispersion phi measures by how much counts vary beyond Poisson (or binomial) counts of one common rate, and the
//! heterogeneity test asks whether that could be chance.

use super::equal_shares::{Ordering, Road, Settings, chi_square, test};
use super::error::Error;
use super::special::chi2_sf;

/// Smallest expected count at which the chi-square tail is trusted (Cochran 1954, Biometrics 10:417); below it the exact test
/// given the total, or its seeded simulation, is used.
const SMALLEST_EXPECTED: f64 = 5.0;

/// How much sites vary around one common rate or share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heterogeneity {
    /// Sites that carry exposure (or trials).
    pub sites: u64,
    /// Pearson's statistic, `sum (y - e)^2 / v`: `e` the count expected at the common rate, `v` its variance.
    pub chi_square: f64,
    /// Degrees of freedom, sites less one.
    pub degrees: u64,
    /// Pearson dispersion, statistic over degrees of freedom: 1 where sites vary as chance makes them, above 1 where more.
    /// `None` where it cannot be known: fewer than two sites, or nothing seen at any.
    pub phi: Option<f64>,
    /// Probability of a statistic this large if all sites have one rate; `None` as for `phi`.
    pub p: Option<f64>,
    /// How `p` was found.
    pub tail: Tail,
}

/// Where a heterogeneity p-value comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tail {
    /// The chi-square distribution.
    ChiSquare,
    /// Exactly, from the multinomial distribution of the counts given their sum.
    Exact,
    /// From seeded draws of that distribution.
    MonteCarlo {
        /// Standard error of the p-value.
        standard_error: f64,
    },
}

/// Heterogeneity of rates over `(events, exposure)` sites.
///
/// Given their sum the counts are multinomial with shares proportional to exposure, so Pearson's statistic is that of
/// [`chi_square`]. Sites without exposure and events tell nothing and are passed over.
///
/// # Errors
/// An exposure that is negative or not finite, events without exposure, no exposure at all.
pub fn of_rates(sites: &[(u64, f64)]) -> Result<Heterogeneity, Error> {
    let kept = with_exposure(sites)?;
    let counts: Vec<u64> = kept.iter().map(|s| s.0).collect();
    let exposure: f64 = kept.iter().map(|s| s.1).sum();
    let shares: Vec<f64> = kept.iter().map(|s| s.1 / exposure).collect();
    let fit = chi_square(&counts, &shares)?;
    let mut found = Heterogeneity {
        sites: kept.len() as u64,
        chi_square: fit.statistic,
        degrees: fit.degrees,
        phi: None,
        p: None,
        tail: Tail::ChiSquare,
    };
    if fit.degrees == 0 || counts.iter().all(|&y| y == 0) {
        return Ok(found);
    }
    found.phi = Some(fit.statistic / fit.degrees as f64);
    found.p = Some(fit.p);
    if fit.expected.iter().any(|&e| e < SMALLEST_EXPECTED) {
        let settings = Settings {
            ordering: Ordering::ChiSquare,
            limit: 2_000_000,
            draws: 20_000,
            ..Settings::default()
        };
        let outcome = test(&counts, &shares, &settings)?;
        found.p = Some(outcome.p);
        found.tail = match outcome.road {
            Road::Exact { .. } => Tail::Exact,
            Road::MonteCarlo { standard_error, .. } => Tail::MonteCarlo { standard_error },
        };
    }
    Ok(found)
}

/// Heterogeneity of shares over `(successes, trials)` sites, with the chi-square tail.
///
/// # Errors
/// More successes than trials, no trial at all.
pub fn of_proportions(sites: &[(u64, u64)]) -> Result<Heterogeneity, Error> {
    if let Some(&(successes, trials)) = sites.iter().find(|(y, n)| y > n) {
        return Err(Error::Proportion { successes, trials });
    }
    let kept: Vec<(f64, f64)> = sites
        .iter()
        .filter(|(_, n)| *n > 0)
        .map(|&(y, n)| (y as f64, n as f64))
        .collect();
    let (successes, trials) = kept
        .iter()
        .fold((0.0, 0.0), |(y, n), site| (y + site.0, n + site.1));
    if kept.is_empty() {
        return Err(Error::Proportion {
            successes: 0,
            trials: 0,
        });
    }
    let p = successes / trials;
    let degrees = kept.len() as u64 - 1;
    let known = degrees > 0 && successes > 0.0 && successes < trials;
    let chi_square: f64 = if known {
        kept.iter()
            .map(|(y, n)| (y - n * p).powi(2) / (n * p * (1.0 - p)))
            .sum()
    } else {
        0.0
    };
    Ok(Heterogeneity {
        sites: kept.len() as u64,
        chi_square,
        degrees,
        phi: known.then_some(chi_square / degrees as f64),
        p: known.then(|| chi2_sf(chi_square, degrees as f64)),
        tail: Tail::ChiSquare,
    })
}

/// The sites that carry exposure.
pub(super) fn with_exposure(sites: &[(u64, f64)]) -> Result<Vec<(u64, f64)>, Error> {
    if let Some(&(_, value)) = sites
        .iter()
        .find(|&&(y, t)| !(t >= 0.0 && t.is_finite()) || (t == 0.0 && y > 0))
    {
        return Err(Error::Parameter {
            name: "exposure",
            value,
            requirement: "finite, and above 0 where there are events",
        });
    }
    let kept: Vec<_> = sites.iter().copied().filter(|s| s.1 > 0.0).collect();
    if kept.is_empty() {
        return Err(Error::Input {
            name: "sites",
            requirement: "at least one must have exposure",
        });
    }
    Ok(kept)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Closed form: counts 10 and 30 on equal exposure have chi-square 10, phi 10.
    #[test]
    fn two_sites() {
        let found = of_rates(&[(10, 2.0), (30, 2.0)]).unwrap();
        assert_relative_eq!(found.chi_square, 10.0, max_relative = 1e-14);
        assert_relative_eq!(found.phi.unwrap(), 10.0, max_relative = 1e-14);
        assert_relative_eq!(found.p.unwrap(), chi2_sf(10.0, 1.0), max_relative = 1e-12);
        assert_eq!(found.tail, Tail::ChiSquare);
    }

    /// Few expected events: the exact tail. 3 of 3 in one of two equal sites has p = 2 / 8 (closed form).
    #[test]
    fn few_events_take_the_exact_tail() {
        let found = of_rates(&[(3, 1.0), (0, 1.0)]).unwrap();
        assert_eq!(found.tail, Tail::Exact);
        assert_relative_eq!(found.p.unwrap(), 0.25, max_relative = 1e-12);
    }

    /// Many sites with few events each: drawn, and the same every time.
    #[test]
    fn many_sites_are_drawn() {
        let sites: Vec<(u64, f64)> = (0..200).map(|i| (i % 7, 1.0 + (i % 3) as f64)).collect();
        let found = of_rates(&sites).unwrap();
        let Tail::MonteCarlo { standard_error } = found.tail else {
            panic!("{found:?}")
        };
        assert!(standard_error < 0.01);
        assert_eq!(found, of_rates(&sites).unwrap());
    }

    #[test]
    fn edges_and_bad_input() {
        for sites in [
            &[(4, 1.0)][..],
            &[(0, 1.0), (0, 2.0)],
            &[(4, 1.0), (0, 0.0)],
        ] {
            let found = of_rates(sites).unwrap();
            assert_eq!(
                (found.phi, found.p, found.chi_square),
                (None, None, 0.0),
                "{sites:?}"
            );
        }
        for sites in [&[][..], &[(0, 0.0)], &[(2, 0.0)], &[(1, f64::NAN)]] {
            assert!(of_rates(sites).is_err(), "{sites:?}");
        }
        for sites in [
            &[(4, 9)][..],
            &[(0, 3), (0, 2)],
            &[(3, 3), (2, 2)],
            &[(1, 2), (0, 0)],
        ] {
            assert_eq!(of_proportions(sites).unwrap().phi, None, "{sites:?}");
        }
        assert!(of_proportions(&[(3, 2)]).is_err() && of_proportions(&[(0, 0)]).is_err());
    }
}
