//! What makes one table more extreme than another.

use super::table::Table;
use crate::stats::special::deviance::unit_deviance;
use crate::stats::special::stirling::stirling_error;

/// Slack within which two tables count as equally extreme, on the log scale. Tables that are mirror images of each other
/// have the same statistic, yet their floating-point sums differ in the last digits; without slack half of them are lost.
const TIE_SLACK: f64 = 1e-7;

/// The order in which tables count as extreme. The three give different p-values for the same table, so an answer names
/// the one it used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Ordering {
    /// The less probable a table, the more extreme: the exact multinomial test in its usual form.
    #[default]
    Probability,
    /// By Pearson's chi-square.
    ChiSquare,
    /// By the likelihood ratio against the observed shares, as in the G test.
    LikelihoodRatio,
}

impl Ordering {
    /// The three of them.
    pub const ALL: [Self; 3] = [Self::Probability, Self::ChiSquare, Self::LikelihoodRatio];

    /// Stable id, as in options and answers.
    pub fn id(self) -> &'static str {
        match self {
            Self::Probability => "probability",
            Self::ChiSquare => "chi_square",
            Self::LikelihoodRatio => "likelihood_ratio",
        }
    }

    /// A cell's part of the statistic: `count` seen where `expected` were. Convex in `count` for every ordering, which
    /// the exact test's bounds rest on.
    ///
    /// For [`Ordering::Probability`] the parts sum to minus the log-probability of the table up to a constant.
    pub(super) fn part(self, count: f64, expected: f64) -> f64 {
        match self {
            Self::Probability => poisson_surprise(count, expected),
            Self::ChiSquare => (count - expected) * ((count - expected) / expected),
            Self::LikelihoodRatio => 2.0 * unit_deviance(count, expected, expected - count),
        }
    }

    /// The statistic above which (or at which) a table is at least as extreme as the observed one.
    pub(super) fn threshold(self, table: &Table) -> f64 {
        let observed: f64 = table
            .counts
            .iter()
            .zip(table.expected())
            .filter(|(_, expected)| *expected > 0.0)
            .map(|(&x, expected)| self.part(x as f64, expected))
            .sum();
        observed - TIE_SLACK.max(1e-13 * observed.abs())
    }
}

/// `-ln` of the Poisson probability of `x` under mean `m`. A multinomial table is independent Poisson counts given their
/// sum; this form of its probability subtracts no `ln n!` from each other, so ties are still seen at counts of 10^9.
fn poisson_surprise(x: f64, m: f64) -> f64 {
    if x <= 0.0 {
        return m;
    }
    unit_deviance(x, m, m - x) + stirling_error(x) + 0.5 * (std::f64::consts::TAU * x).ln()
}
