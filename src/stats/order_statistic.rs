//! Distribution-free statements from ordered values: limits of a quantile, and how much of a population lies between extremes.

use super::error::Error;
use super::interval::tail;
use super::special::{beta_i, binomial_cdf, binomial_sf};

/// Ranks, from 1, between which a quantile lies with at least the confidence asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankLimits {
    /// Largest rank `l` with `P(X(l) > quantile) <= alpha / 2`; `None` where even the least value is not low enough.
    pub lower: Option<u64>,
    /// Smallest rank `u` with `P(X(u) <= quantile) <= alpha / 2`; `None` where even the greatest is not high enough.
    pub upper: Option<u64>,
}

/// Ranks of `n` independent values whose order statistics bound the `p`-quantile, each tail at most `(1 - level) / 2`.
///
/// The number of values at or below the quantile is binomial: `P(B <= l - 1) <= alpha / 2` and `P(B >= u) <= alpha / 2` with
/// `B ~ Bin(n, p)` (David & Nagaraja 2003, Order Statistics, 7.1; the rank table of reference-interval guidance comes from it:
/// for 2.5 % at 90 % both ranks exist from n = 119 on). Holds for every distribution; ties only widen it.
///
/// # Errors
/// No value; `p` outside (0, 1); a level outside (0, 1).
pub fn quantile_ranks(n: u64, p: f64, level: f64) -> Result<RankLimits, Error> {
    let alpha = tail(level)?;
    check_share("p", p)?;
    if n == 0 {
        return Err(Error::Input {
            name: "n",
            requirement: "at least one value",
        });
    }
    // P(B <= k) rises with k: the largest k at or below alpha gives l = k + 1.
    let fits = |k: u64| binomial_cdf(k, n, p) <= alpha;
    let lower = fits(0).then(|| last_true(0, n, fits) + 1);
    // P(B >= u) = P(B > u - 1) falls with u.
    let too_low = |u: u64| binomial_sf(u - 1, n, p) > alpha;
    let upper = match last_true(1, n + 1, too_low) {
        u if !too_low(u) => Some(u),
        u if u < n => Some(u + 1),
        _ => None,
    };
    Ok(RankLimits { lower, upper })
}

/// Largest `k` in [from, end) for which `holds`, true before it and false after; `from` if it holds nowhere.
fn last_true(from: u64, end: u64, holds: impl Fn(u64) -> bool) -> u64 {
    let (mut yes, mut no) = (from, end);
    while no - yes > 1 {
        let middle = yes + (no - yes) / 2;
        if holds(middle) {
            yes = middle;
        } else {
            no = middle;
        }
    }
    yes
}

/// Confidence that at least `content` of the population lies between order statistics of `n` values from which `removed` ends
/// are cut: 1 for the greatest alone, 2 for least and greatest.
///
/// The content is Beta(n - removed + 1, removed) (Wilks 1941, Ann Math Stat 12:91). 0 where `n < removed`.
///
/// # Errors
/// `content` outside (0, 1); nothing removed.
pub fn content_confidence(n: u64, content: f64, removed: u64) -> Result<f64, Error> {
    check_share("content", content)?;
    if removed == 0 {
        return Err(Error::Input {
            name: "removed",
            requirement: "at least one end",
        });
    }
    if n < removed {
        return Ok(0.0);
    }
    Ok(1.0 - beta_i((n - removed + 1) as f64, removed as f64, content))
}

/// Least `n` for which [`content_confidence`] reaches `level`: 59 for one end at 95/95, 93 for both.
///
/// # Errors
/// As [`content_confidence`]; a level outside (0, 1).
pub fn sample_for_content(content: f64, level: f64, removed: u64) -> Result<u64, Error> {
    tail(level)?;
    let reached = |n| content_confidence(n, content, removed).map(|c| c >= level - 1e-15);
    let mut enough = removed.max(1);
    while !reached(enough)? {
        enough = enough.saturating_mul(2);
    }
    let mut short = enough / 2;
    while enough - short > 1 {
        let middle = short + (enough - short) / 2;
        if reached(middle)? {
            enough = middle;
        } else {
            short = middle;
        }
    }
    Ok(enough)
}

fn check_share(name: &'static str, value: f64) -> Result<(), Error> {
    if value > 0.0 && value < 1.0 {
        return Ok(());
    }
    Err(Error::Parameter {
        name,
        value,
        requirement: "must lie strictly between 0 and 1",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The slow, obvious twin.
    fn by_search(n: u64, p: f64, alpha: f64) -> RankLimits {
        let lower = (1..=n).rev().find(|l| binomial_cdf(l - 1, n, p) <= alpha);
        let upper = (1..=n).find(|u| binomial_sf(u - 1, n, p) <= alpha);
        RankLimits { lower, upper }
    }

    #[test]
    fn ranks_are_those_of_a_search_through_all() {
        for n in (1..40).chain([118, 119, 120, 500]) {
            for p in [0.025, 0.1, 0.5, 0.9, 0.975] {
                for level in [0.5, 0.9, 0.95] {
                    let alpha = tail(level).unwrap();
                    let got = quantile_ranks(n, p, level).unwrap();
                    assert_eq!(got, by_search(n, p, alpha), "{n} {p} {level}");
                }
            }
        }
    }

    #[test]
    fn refuses_what_means_nothing() {
        assert!(quantile_ranks(0, 0.5, 0.9).is_err());
        assert!(quantile_ranks(5, 1.0, 0.9).is_err());
        assert!(content_confidence(5, 0.5, 0).is_err());
        assert_eq!(content_confidence(1, 0.95, 2), Ok(0.0));
    }
}
