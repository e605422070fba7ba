//! How many cases a comparison still needs: to tell two shares apart, and to reject equal shares of k cells.
//!
//! Both take the split seen so far as if it were the truth. A split seen in few cases is wilder than the truth, so the numbers
//! are closer to "at least" than to "enough".

use super::error::Error;
use super::interval::outside;
use super::special::root::bracketed_newton;
use super::special::{binomial_cdf, binomial_sf, chi2_isf, noncentral_chi2_sf, norm_isf};

/// Totals above which the exact search gives way to the normal formula, which is then right to about one part in 10^3.
const LARGEST_EXACT: f64 = 1e6;

/// Cases needed in total, and how the number was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needed {
    /// Total number of cases, those already seen included.
    pub cases: u64,
    /// Whether found by exact binomial search rather than by the normal formula.
    pub exact: bool,
}

fn check_power(power: f64) -> Result<(), Error> {
    if power > 0.0 && power < 1.0 {
        return Ok(());
    }
    Err(Error::Parameter {
        name: "power",
        value: power,
        requirement: "must lie strictly between 0 and 1",
    })
}

/// Cases needed in the two cells together so that a two-sided exact binomial test of equal shares, at 1 - level, rejects with
/// probability at least `power`, for this total and every larger one, when the true split is first : second.
///
/// The test rejects when the larger side's tail at 1/2 is at most (1 - level) / 2. `None` when first = second: no number of
/// cases separates equal shares. Search starts from the normal formula with continuity correction (Fleiss, Levin and Paik
/// 2003, Statistical Methods for Rates and Proportions, section 2.5): with d = |p - 1/2|,
/// m = ((z_(alpha/2) / 2 + z_(1-power) sqrt(p q)) / d)^2, then m/4 (1 + sqrt(1 + 2 / (m d)))^2.
/// Lower `level`'s complement by the number of pairs looked at (Bonferroni) when several pairs are compared.
///
/// # Errors
/// [`Error::Level`]; [`Error::Parameter`] for the power; [`Error::Input`] if both counts are 0.
pub fn to_tell_two_shares_apart(
    first: u64,
    second: u64,
    level: f64,
    power: f64,
) -> Result<Option<Needed>, Error> {
    check_power(power)?;
    let alpha = outside(level)?;
    if first == 0 && second == 0 {
        return Err(Error::Input {
            name: "counts",
            requirement: "a split needs at least one case",
        });
    }
    if first == second {
        return Ok(None);
    }
    let share = first.max(second) as f64 / (first as f64 + second as f64);
    let formula = by_normal_formula(share, alpha, power);
    if formula > LARGEST_EXACT {
        return Ok(Some(Needed {
            cases: formula.min(u64::MAX as f64).ceil() as u64,
            exact: false,
        }));
    }
    Ok(Some(Needed {
        cases: by_search(share, alpha, power, formula.ceil() as u64),
        exact: true,
    }))
}

fn by_normal_formula(share: f64, alpha: f64, power: f64) -> f64 {
    let distance = share - 0.5;
    let spread = norm_isf(alpha / 2.0) / 2.0
        + norm_isf(1.0 - power).max(0.0) * (share * (1.0 - share)).sqrt();
    let plain = (spread / distance).powi(2);
    plain / 4.0 * (1.0 + (1.0 + 2.0 / (plain * distance)).sqrt()).powi(2)
}

/// Power rises in a saw-tooth: walk down from above the last tooth that dips below the goal.
///
/// A step of one in the critical count is made up for by about 1 / (share - 1/2) cases, so a few times that many above the
/// formula no tooth reaches down to the goal.
fn by_search(share: f64, alpha: f64, power: f64, near: u64) -> u64 {
    let margin = 20 + (6.0 / (share - 0.5)) as u64;
    let mut total = near + margin;
    while (total..total + 20).any(|m| power_at(m, share, alpha) < power) {
        total += margin;
    }
    while total > 1 && power_at(total - 1, share, alpha) >= power {
        total -= 1;
    }
    total
}

/// Probability that the exact two-sided test rejects at `total` cases; 0 where no count would.
pub fn power_at(total: u64, share: f64, alpha: f64) -> f64 {
    let Some(critical) = critical_count(total, alpha) else {
        return 0.0;
    };
    binomial_sf(critical - 1, total, share) + binomial_cdf(total - critical, total, share)
}

/// Smallest count k with P(X >= k) <= alpha / 2 at share 1/2; `None` if even k = total is too likely.
fn critical_count(total: u64, alpha: f64) -> Option<u64> {
    let rejects = |k: u64| binomial_sf(k - 1, total, 0.5) <= alpha / 2.0 * (1.0 + 1e-12);
    if total == 0 || !rejects(total) {
        return None;
    }
    let (mut low, mut high) = (total / 2, total);
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if rejects(middle) {
            high = middle
        } else {
            low = middle
        }
    }
    Some(high)
}

/// Cases needed so that a chi-square test of equal shares over `cells` cells, at 1 - level, has at least `power` against
/// effect size `w` = sqrt(sum (p_i - 1/k)^2 / (1/k)).
///
/// The smallest n whose noncentral chi-square with k - 1 degrees of freedom and noncentrality n w^2 exceeds the central
/// critical value with that probability (Cohen 1988, Statistical Power Analysis, ch. 7). `None` when w = 0.
///
/// # Errors
/// [`Error::Level`]; [`Error::Parameter`] for the power, fewer than two cells, or a w that is negative or not finite.
pub fn to_reject_equal_shares(
    cells: u64,
    w: f64,
    level: f64,
    power: f64,
) -> Result<Option<u64>, Error> {
    if cells < 2 {
        return Err(Error::Parameter {
            name: "cells",
            value: cells as f64,
            requirement: "must be at least 2",
        });
    }
    if !(w >= 0.0 && w.is_finite()) {
        return Err(Error::Parameter {
            name: "w",
            value: w,
            requirement: "must be 0 or more, and finite",
        });
    }
    let noncentrality = noncentrality((cells - 1) as f64, level, power)?;
    if w == 0.0 {
        return Ok(None);
    }
    Ok(Some((noncentrality / (w * w)).ceil().max(1.0) as u64))
}

/// The noncentrality at which a chi-square test with `df` degrees of freedom, at 1 - level, has this power.
///
/// 0 if the power is no larger than 1 - level, which a test has without any effect.
///
/// # Errors
/// [`Error::Level`]; [`Error::Parameter`] for the power.
pub fn noncentrality(df: f64, level: f64, power: f64) -> Result<f64, Error> {
    check_power(power)?;
    let alpha = outside(level)?;
    if power <= alpha {
        return Ok(0.0);
    }
    let critical = chi2_isf(alpha, df);
    // d sf(x; df, l) / d l = (sf(x; df + 2, l) - sf(x; df, l)) / 2.
    let function = |lambda: f64| {
        let here = noncentral_chi2_sf(critical, df, lambda);
        (
            here - power,
            0.5 * (noncentral_chi2_sf(critical, df + 2.0, lambda) - here),
        )
    };
    let start = (norm_isf(alpha / 2.0) + norm_isf(1.0 - power)).powi(2) * (1.0 + df).ln().max(1.0);
    let ceiling = 4.0 * critical + 400.0 + 10.0 * start;
    bracketed_newton(function, (0.0, ceiling), start).ok_or(Error::NotConverged {
        what: "noncentrality",
        iterations: 200,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_number_holds_for_every_larger_total_and_fails_one_below() {
        for (first, second) in [(7, 3), (12, 8), (3, 1), (1, 0), (60, 40), (11, 9)] {
            let needed = to_tell_two_shares_apart(first, second, 0.95, 0.8)
                .unwrap()
                .unwrap();
            assert!(needed.exact);
            let share = first as f64 / (first + second) as f64;
            assert!(
                (needed.cases..needed.cases * 3 + 200).all(|m| power_at(m, share, 0.05) >= 0.8),
                "{needed:?}"
            );
            assert!(power_at(needed.cases - 1, share, 0.05) < 0.8, "{needed:?}");
        }
    }

    #[test]
    fn all_cases_on_one_side_need_as_many_as_make_the_tail_small() {
        // 2 (1/2)^6 = 0.03125 <= 0.05 < 2 (1/2)^5: closed form.
        assert_eq!(
            to_tell_two_shares_apart(4, 0, 0.95, 0.9),
            Ok(Some(Needed {
                cases: 6,
                exact: true
            }))
        );
    }

    #[test]
    fn equal_shares_are_never_told_apart_and_close_ones_use_the_formula() {
        assert_eq!(to_tell_two_shares_apart(5, 5, 0.95, 0.8), Ok(None));
        let close = to_tell_two_shares_apart(1_000_000, 999_000, 0.95, 0.8)
            .unwrap()
            .unwrap();
        assert!(!close.exact && close.cases > 1_000_000);
        assert!(to_tell_two_shares_apart(0, 0, 0.95, 0.8).is_err());
        assert!(to_tell_two_shares_apart(1, 2, 0.95, 1.0).is_err());
    }

    #[test]
    fn the_largest_exact_search_takes_few_steps() {
        let needed = to_tell_two_shares_apart(50_145, 49_855, 0.95, 0.8)
            .unwrap()
            .unwrap();
        assert!(needed.exact && needed.cases > 800_000, "{needed:?}");
    }

    #[test]
    fn formula_and_search_meet() {
        for share in [0.52f64, 0.6, 0.7] {
            let formula = by_normal_formula(share, 0.05, 0.8);
            let exact = by_search(share, 0.05, 0.8, formula.ceil() as u64) as f64;
            assert!(
                (exact / formula - 1.0).abs() < 0.05,
                "{share}: {exact} {formula}"
            );
        }
    }

    #[test]
    fn noncentrality_gives_back_its_power() {
        for df in [1.0, 3.0, 7.0, 40.0] {
            for power in [0.06, 0.5, 0.8, 0.99, 0.999999] {
                let lambda = noncentrality(df, 0.95, power).unwrap();
                let back = noncentral_chi2_sf(chi2_isf(0.05, df), df, lambda);
                assert!(
                    (back - power).abs() < 1e-12,
                    "{df} {power}: {lambda} {back}"
                );
            }
        }
        assert_eq!(noncentrality(3.0, 0.95, 0.05), Ok(0.0));
        assert_eq!(to_reject_equal_shares(4, 0.0, 0.95, 0.8), Ok(None));
        assert!(to_reject_equal_shares(1, 0.3, 0.95, 0.8).is_err());
        assert!(to_reject_equal_shares(4, f64::NAN, 0.95, 0.8).is_err());
    }
}
