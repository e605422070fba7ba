//! The answer `life` gives: its struct is the JSON contract `boretally.life/1`. Every distance is in metres.

use serde::Serialize;

use crate::answer::label::RowKey;
use crate::answer::parts::{Caveat, Estimate, Evidence};
use crate::answer::question::Question;

/// Survival of every group, and what follows from it.
#[derive(Debug, Clone, Serialize)]
pub struct Life {
    /// What was asked.
    pub question: Question,
    /// `engine`, `odometer` or `repair`: what distances are counted from.
    pub clock: &'static str,
    /// What fails, in words: a cause, several, or any failure.
    pub what: String,
    /// Whose life it is where groups are not split by family.
    pub whose: String,
    /// Plain words.
    pub verdict: Vec<String>,
    /// One entry a group.
    pub groups: Vec<GroupLife>,
    /// Shapes that groups with few failures borrow from all groups.
    pub pooled: Vec<PooledShape>,
    /// Tests of whether groups differ.
    pub comparisons: Vec<Comparison>,
    /// The same question under other rules.
    pub sensitivity: Vec<LifeRule>,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// How much a group can tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Two failures or more: curve and distributions.
    Estimated,
    /// One failure: a curve, a bound, no distribution of its own.
    OneFailure,
    /// Distance, and no failure: a bound on the rate.
    NoFailure,
    /// No distance under observation.
    NothingObserved,
}

/// The life of one group.
#[derive(Debug, Clone, Serialize)]
pub struct GroupLife {
    /// Ids of the group's parts.
    pub key: RowKey,
    /// How much it can tell.
    pub status: Status,
    /// First failures, vehicles, distance up to the first failure of each engine.
    pub evidence: Evidence,
    /// Engines under observation: how often the curve's risk set was entered.
    pub lives: u64,
    /// First failures of vehicles never seen before: in no curve, and the end of those lives.
    pub walk_ins: u64,
    /// First failures after a vehicle's last visit without trouble: observation had ended.
    pub after_last_visit: u64,
    /// First failures at an unknown distance: they end the life and are in no curve.
    pub unplaced: u64,
    /// First failures at the distance at which observation began: no distance at risk.
    pub without_distance: u64,
    /// Engines seen at one distance only.
    pub never_at_risk: u64,
    /// Metres under observation at an unknown place on the clock.
    pub unknown_clock_m: i64,
    /// Where the curve begins: it is conditional on reaching this distance.
    pub from_m: Option<i64>,
    /// The last distance met by enough lives: nothing is read off a distribution beyond it.
    pub well_filled_to_m: Option<i64>,
    /// Where observation ends.
    pub to_m: Option<i64>,
    /// Why the curve does not begin at the first entry, or where it stops being known.
    pub not_identified: Option<String>,
    /// The survival curve, one step a distance with failures.
    pub curve: Vec<CurveStep>,
    /// The part of the curve that the simultaneous band covers.
    pub band: Option<SimultaneousBand>,
    /// The curve at the edges of the mileage bands.
    pub milestones: Vec<Milestone>,
    /// Mean distance without failure up to a limit.
    pub mean: Option<MeanDistance>,
    /// Distances by which shares have failed, by method.
    pub shares: Vec<ShareFailed>,
    /// Fitted distributions, the best first.
    pub fits: Vec<LifeFit>,
    /// Distributions that could not be fitted.
    pub unfitted: Vec<Unfitted>,
    /// Rate of first failures by mileage band.
    pub hazard: Vec<HazardBand>,
    /// Probability to fail within a further distance.
    pub ahead: Option<Ahead>,
    /// Share failed by each cause when the causes compete to be the first.
    pub incidence: Vec<CauseIncidence>,
    /// What no failure, or one, can say.
    pub bound: Option<Bound>,
    /// What only charts show.
    #[serde(skip)]
    pub drawn: Drawn,
}

/// Points for the charts; they repeat what the answer says.
#[derive(Debug, Clone, Default)]
pub struct Drawn {
    /// Distances at which lives left unfailed.
    pub left_at_m: Vec<i64>,
    /// The best fit's share without failure, given the beginning of the curve, over the well-filled distance.
    pub fit_line: Vec<(i64, f64)>,
    /// Failures on Weibull paper.
    pub paper: Option<WeibullPaper>,
}

/// Failures where a Weibull distribution is a straight line: ln(-ln(1 - F)) over ln distance.
#[derive(Debug, Clone)]
pub struct WeibullPaper {
    /// Distance and height of each failure.
    pub points: Vec<(i64, f64)>,
    /// ln of the scale in metres.
    pub location: f64,
    /// 1 / shape.
    pub sigma: f64,
}

/// The curve from one distance with failures on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CurveStep {
    /// Distance of the failures.
    pub distance_m: i64,
    /// Lives at risk there.
    pub at_risk: u64,
    /// First failures there.
    pub failed: u64,
    /// Lives that left unfailed since the step before.
    pub left: u64,
    /// Kaplan-Meier share without failure.
    pub survival: f64,
    /// Greenwood's standard error; none once nobody is left.
    pub standard_error: Option<f64>,
    /// Lower log-log limit.
    pub lower: Option<f64>,
    /// Upper log-log limit.
    pub upper: Option<f64>,
    /// Lower limit of the band that holds the whole curve at once.
    pub band_lower: Option<f64>,
    /// Upper limit of that band.
    pub band_upper: Option<f64>,
    /// Nelson-Aalen cumulative hazard.
    pub cumulative_hazard: f64,
    /// Its standard error.
    pub cumulative_hazard_error: f64,
}

/// Range and width of the simultaneous band.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SimultaneousBand {
    /// Where it begins.
    pub from_m: i64,
    /// Where it ends.
    pub to_m: i64,
    /// Standard errors on each side.
    pub deviate: f64,
}

/// The curve at one distance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Milestone {
    /// The distance.
    pub distance_m: i64,
    /// Lives at risk there.
    pub at_risk: u64,
    /// First failures up to there.
    pub failed: u64,
    /// Lives that had left unfailed before it.
    pub left: u64,
    /// Share without failure; none where it is not identified.
    pub survival: Option<Estimate>,
}

/// A mean distance up to a limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeanDistance {
    /// From where.
    pub from_m: i64,
    /// Up to where.
    pub to_m: i64,
    /// Mean metres driven without failure in between.
    pub distance: Estimate,
    /// Standard error in metres.
    pub standard_error: f64,
}

/// The distance by which a share has failed, by one method.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShareFailed {
    /// The share, such as 0.1.
    pub share: f64,
    /// `kaplan-meier` or a distribution.
    pub method: String,
    /// Given that this distance is reached: where the curve begins; 0 for a distribution.
    pub given_m: i64,
    /// Metres; none where the data do not reach.
    pub distance: Option<Estimate>,
    /// Where there is no estimate: no sooner than this.
    pub at_least_m: Option<f64>,
    /// Why there is no estimate.
    pub why: Option<String>,
}

/// A fitted distribution.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LifeFit {
    /// `weibull`, `lognormal`, `loglogistic`, `exponential`.
    pub distribution: &'static str,
    /// Its parameters.
    pub parameters: Vec<FitParameter>,
    /// ln L with the density of metres.
    pub log_likelihood: f64,
    /// Akaike's criterion.
    pub aic: f64,
    /// The Bayesian criterion, with the number of failures.
    pub bic: f64,
    /// How far its AIC is above that of the best.
    pub aic_behind: f64,
    /// Whether it describes the failures; none with too few of them.
    pub goodness: Option<Goodness>,
}

/// A parameter of a fit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FitParameter {
    /// `scale_m`, `median_m`, `mean_m`, `shape` or `sigma`.
    pub name: &'static str,
    /// Estimate with profile-likelihood limits (exact ones of the exponential).
    pub estimate: Estimate,
    /// Standard error.
    pub standard_error: f64,
    /// Lower limit by the normal approximation to its logarithm.
    pub wald_lower: f64,
    /// Upper limit by the same.
    pub wald_upper: f64,
}

/// Hjort's chi-square test of a fit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Goodness {
    /// Bands of about equal expected failures.
    pub bands: usize,
    /// The statistic.
    pub chi_square: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Probability of a larger one if the distribution is right.
    pub p: Option<f64>,
}

/// A distribution without a fit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Unfitted {
    /// Which.
    pub distribution: &'static str,
    /// Why.
    pub why: String,
}

/// First failures in one mileage band.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HazardBand {
    /// The band in words.
    pub band: String,
    /// Its beginning.
    pub from_m: i64,
    /// Its end; none for the last.
    pub to_m: Option<i64>,
    /// First failures in it.
    pub failures: u64,
    /// Metres at risk of a first failure.
    pub exposure_m: i64,
    /// First failures per 100 000 km (or miles).
    pub rate: Option<Estimate>,
    /// Every failure over all distance, as `rates` counts it.
    pub every_failure: Option<Estimate>,
}

/// The probability to fail within a further distance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ahead {
    /// The distance reached so far.
    pub from_m: i64,
    /// The further distance.
    pub over_m: i64,
    /// By the curve; none where it is not known.
    pub observed: Option<Estimate>,
    /// Why not.
    pub why: Option<String>,
    /// By each distribution; none beyond the well-filled distance.
    pub fits: Vec<AheadByFit>,
}

/// The same by one distribution.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AheadByFit {
    /// Which.
    pub distribution: &'static str,
    /// The probability.
    pub probability: Estimate,
}

/// One of several competing causes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CauseIncidence {
    /// Cause id.
    pub cause: String,
    /// Cause in words.
    pub title: String,
    /// Lives whose first failure it was.
    pub failed: u64,
    /// Share failed first by this cause, where it changes.
    pub steps: Vec<IncidenceStep>,
}

/// The incidence of a cause from one distance on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IncidenceStep {
    /// Distance.
    pub distance_m: i64,
    /// Aalen-Johansen share.
    pub share: f64,
    /// Standard error, Greenwood type.
    pub standard_error: f64,
    /// Lower limit on the log-log scale.
    pub lower: Option<f64>,
    /// Upper limit on the log-log scale.
    pub upper: Option<f64>,
}

/// What so few failures can say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bound {
    /// Rate of failures per 100 000 km (or miles), exact limits; the value is failures over distance.
    pub rate: Estimate,
    /// One-sided upper bound of the rate at the same level.
    pub rate_at_most: f64,
    /// Distances before which a share does not fail, if the shape is right.
    pub shapes: Vec<StatedShape>,
}

/// A bound under a stated Weibull shape.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StatedShape {
    /// The shape.
    pub shape: f64,
    /// `stated` or `shared`: where it comes from.
    pub source: &'static str,
    /// The share.
    pub share: f64,
    /// At the level asked for, the share has not failed before this distance.
    pub at_least_m: f64,
    /// Whether that is beyond the well-filled distance, and so a matter of the shape alone.
    pub beyond: bool,
}

/// A Weibull shape that all groups share.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PooledShape {
    /// What fails, where causes or cylinders are told apart.
    pub what: RowKey,
    /// Groups with failures that it is learnt from.
    pub groups: u64,
    /// Their failures.
    pub failures: u64,
    /// The shape, with limits by the normal approximation to its logarithm.
    pub shape: Estimate,
    /// p-value of one shape for all; none when fewer than two groups can be fitted alone.
    pub p_equal: Option<f64>,
}

/// A test of whether groups fail alike.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// What fails, where causes or cylinders are told apart.
    pub what: RowKey,
    /// Dimensions within which groups are compared.
    pub within: Vec<&'static str>,
    /// Log-rank statistic.
    pub chi_square: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Its p-value; none when no two groups were at risk together.
    pub p: Option<f64>,
    /// p-value of the Peto-Peto test, which weighs early failures more.
    pub p_early: Option<f64>,
    /// The groups.
    pub groups: Vec<ComparedGroup>,
}

/// One group of a comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComparedGroup {
    /// Ids of the group's parts.
    pub key: RowKey,
    /// First failures.
    pub observed: f64,
    /// First failures expected if all groups failed alike.
    pub expected: f64,
}

/// A group under another rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LifeRule {
    /// Stable id, such as `confirmation-2`.
    pub id: String,
    /// The rule in words.
    pub rule: String,
    /// The group.
    pub key: RowKey,
    /// First failures.
    pub failures: u64,
    /// Distance by which 10 % have failed, by the curve.
    pub tenth: Option<Estimate>,
    /// Whether that lies outside the interval of the main answer.
    pub changes_verdict: bool,
}
