//! The life of one group, and what only its charts show.

use serde::Serialize;

use super::curve::{
    CauseIncidence, CurveStep, HazardBand, MeanDistance, Milestone, SimultaneousBand,
};
use super::few::Bound;
use super::fitted::{Ahead, LifeFit, ShareFailed, Unfitted};
use crate::answer::label::RowKey;
use crate::answer::parts::Evidence;

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
    /// Lives at risk just after the beginning of the curve.
    pub at_start: u64,
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
