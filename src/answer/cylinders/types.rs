//! The answer `cylinders` gives: its struct is the JSON contract `boretally.cylinders/1`.

use serde::Serialize;

use crate::answer::parts::{Caveat, Estimate, Evidence};
use crate::answer::question::Question;

/// One family's failures by cylinder, and whether the cylinders differ.
#[derive(Debug, Clone, Serialize)]
pub struct Cylinders {
    /// What was asked.
    pub question: Question,
    /// Engine family id.
    pub family: String,
    /// Engine family in words.
    pub family_title: String,
    /// Causes counted, in words; empty means every cause.
    pub causes: Vec<String>,
    /// `differ`, `no-difference-seen` or `too-few`.
    pub finding: Finding,
    /// Plain words.
    pub verdict: Vec<String>,
    /// One row a cylinder.
    pub cylinders: Vec<CylinderRow>,
    /// Test of equal shares; absent without cases.
    pub test: Option<EqualSharesTest>,
    /// Every pair of cylinders.
    pub pairs: Vec<Pair>,
    /// Cases that do not name the cylinder.
    pub unknown: u64,
    /// Cases that name a cylinder this family does not have; they count nowhere.
    pub impossible: u64,
    /// The same test with every unknown case given to the cylinders that have fewest: the worst case for a difference.
    pub p_unknown_against: Option<f64>,
    /// Later cases of the same vehicles that are left out.
    pub repeats_left_out: u64,
    /// How many more cases would settle it, if the shares seen are true.
    pub still_needed: Option<StillNeeded>,
    /// What stands behind it.
    pub evidence: Evidence,
    /// The same question under other rules.
    pub sensitivity: Vec<CylinderSensitivity>,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// What the test says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Finding {
    /// The cylinders differ more than chance would often give.
    Differ,
    /// They do not, and a difference that matters would probably have been seen.
    NoDifferenceSeen,
    /// Too few cases to tell.
    TooFew,
}

/// One cylinder.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CylinderRow {
    /// Cylinder number.
    pub cylinder: u8,
    /// Cases.
    pub count: u64,
    /// Share with an interval that holds for all cylinders at once.
    pub share: Estimate,
    /// Share if no unknown case was on this cylinder.
    pub at_least: f64,
    /// Share if every unknown case was on this cylinder.
    pub at_most: f64,
}

/// The test of equal shares.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EqualSharesTest {
    /// `exact-multinomial` or `monte-carlo`.
    pub method: &'static str,
    /// p-value; the order of tables is by probability.
    pub p: f64,
    /// Standard error of a Monte Carlo p-value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p_standard_error: Option<f64>,
    /// Tables drawn, when Monte Carlo.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub draws: Option<u64>,
    /// Seed of the draws.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seed: Option<u64>,
    /// Pearson chi-square, for comparison.
    pub chi_square: f64,
    /// Its p-value.
    pub chi_square_p: f64,
    /// Likelihood-ratio statistic G.
    pub g: f64,
    /// Its p-value.
    pub g_p: f64,
    /// Cohen's w: 0.1 small, 0.3 medium, 0.5 large.
    pub effect_w: f64,
    /// The same without the part that chance alone brings.
    pub effect_w_corrected: f64,
    /// In words, from the corrected value.
    pub effect: &'static str,
}

/// Two cylinders compared.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pair {
    /// First cylinder.
    pub a: u8,
    /// Second cylinder.
    pub b: u8,
    /// Cases of the first.
    pub count_a: u64,
    /// Cases of the second.
    pub count_b: u64,
    /// Exact two-sided p-value.
    pub p: f64,
    /// After Holm over all pairs.
    pub p_holm: f64,
    /// Whether they differ at the level asked for.
    pub differ: bool,
}

/// Cases still needed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StillNeeded {
    /// More cases (beyond those counted) to see a difference as large as the one seen.
    pub more_cases: u64,
    /// With this probability.
    pub power: f64,
    /// In words, what would be settled.
    pub settles: String,
}

/// The test under another rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CylinderSensitivity {
    /// Stable id.
    pub id: String,
    /// The rule in words.
    pub rule: String,
    /// Cases with a cylinder.
    pub cases: u64,
    /// p-value of equal shares.
    pub p: Option<f64>,
    /// Finding under it.
    pub finding: Finding,
    /// Whether the finding changes.
    pub changes_verdict: bool,
}
