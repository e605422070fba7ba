//! The answer `repeats` gives: its struct is the JSON contract `boretally.repeats/1`.

use serde::Serialize;

use crate::answer::label::RowKey;
use crate::answer::parts::{Caveat, Estimate, Evidence};
use crate::answer::question::Question;

/// Repeated repairs, group by group.
#[derive(Debug, Clone, Serialize)]
pub struct Repeats {
    /// What was asked; its method is that of the comeback shares.
    pub question: Question,
    /// Plain words.
    pub verdict: Vec<String>,
    /// Largest of the mileage edges at which the groups can be compared; absent where none is.
    pub compared_at_m: Option<i64>,
    /// One group for each value of `--by`.
    pub groups: Vec<RepeatGroup>,
    /// First minus second group, where there are two; at most 200 distances.
    pub differences: Vec<MeanDifference>,
    /// Repairs that came back as the same failure.
    pub comebacks: Vec<Comeback>,
    /// The same for all repairs together, and for rare kinds together.
    pub comeback_totals: Vec<ComebackTotal>,
    /// Failures after a repair with the head off against first failures; empty where the filter shows a part of lives only.
    pub second_failures: Vec<SecondFailure>,
    /// The same question under other rules.
    pub sensitivity: Vec<RepeatRule>,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// The failures of one group.
#[derive(Debug, Clone, Serialize)]
pub struct RepeatGroup {
    /// Which group.
    pub key: RowKey,
    /// Mean number of repairs a vehicle at the mileage edges and at the last repair.
    pub at: Vec<MeanPoint>,
    /// The same at the places of repairs, at most 200 of them.
    pub curve: Vec<MeanPoint>,
    /// Vehicles under observation along the engine's clock.
    pub at_risk: Vec<AtRisk>,
    /// Mean cost, where a cost is known.
    pub cost: Option<MeanCost>,
    /// Whether repairs come faster with distance.
    pub trend: Option<Trend>,
    /// Failures of vehicles never seen before: in no curve.
    pub walk_ins: u64,
    /// Failures of vehicles seen before, after observation had ended: in no curve.
    pub after_last_visit: u64,
    /// Failures under observation at an unknown place on the engine's clock: in no curve.
    pub unplaced: u64,
    /// What stands behind it.
    pub evidence: Evidence,
    /// Set when the group was taken out because it is smaller than this.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub suppressed_below: Option<u64>,
}

/// A mean at one place on the engine's clock.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeanPoint {
    /// The place.
    pub distance_m: i64,
    /// Mean by then; absent before the first repair.
    pub mean: Option<Estimate>,
    /// Vehicles under observation there.
    pub at_risk: u64,
    /// Repairs by then.
    pub repairs: u64,
}

/// Vehicles under observation at one place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct AtRisk {
    /// The place.
    pub distance_m: i64,
    /// Vehicles.
    pub vehicles: u64,
}

/// Mean cumulative cost in one money.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeanCost {
    /// ISO 4217 code.
    pub currency: String,
    /// Year of the prices.
    pub price_year: i64,
    /// Mean cost a vehicle in major units at the mileage edges and at the last repair.
    pub at: Vec<MeanPoint>,
    /// Mean cost of one repair among those priced, in major units.
    pub a_repair: f64,
    /// Repairs priced in this money.
    pub priced: u64,
    /// Repairs priced in other money, left out.
    pub other_money: u64,
    /// Repairs without charge, apart.
    pub free: u64,
    /// Repairs declined, apart.
    pub declined: u64,
    /// Repairs without any cost in the records.
    pub unknown: u64,
    /// Every priced repair stands for this many: those priced in other money or not at all are taken to cost the same on average.
    pub weight: f64,
}

/// Laplace's test of a constant rate along the engine's clock.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trend {
    /// Standard normal where the rate is constant; positive where repairs come faster with distance.
    pub laplace: f64,
    /// Two-sided p-value.
    pub p: f64,
    /// Repairs tested.
    pub repairs: u64,
}

/// The difference of two means at one place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeanDifference {
    /// The place.
    pub distance_m: i64,
    /// First minus second mean.
    pub difference: Estimate,
}

/// Comebacks of one repair.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comeback {
    /// Which group, by what says something about vehicles.
    pub key: RowKey,
    /// Repair id.
    pub repair: String,
    /// Repair in words.
    pub title: String,
    /// Repairs whose whole comeback window has been seen.
    pub repairs: u64,
    /// Of these, repairs that came back as the same failure.
    pub came_back: u64,
    /// Share of them.
    pub share: Option<Estimate>,
    /// Repairs too recent to tell.
    pub too_recent: u64,
    /// Vehicles.
    pub vehicles: u64,
}

/// Comebacks of several kinds of repair together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComebackTotal {
    /// Which group.
    pub key: RowKey,
    /// `all`; or `rare`: kinds with fewer than ten repairs, none of which came back.
    pub of: &'static str,
    /// Repairs whose whole comeback window has been seen.
    pub repairs: u64,
    /// Of these, repairs that came back as the same failure.
    pub came_back: u64,
    /// Share of them.
    pub share: Estimate,
    /// Repair ids.
    pub kinds: Vec<String>,
}

/// Failures after a repair with the head off against first failures in the same families and mileage bands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SecondFailure {
    /// `any_cylinder` or `same_cylinder`.
    pub what: &'static str,
    /// Repairs with the head off at a known place.
    pub repairs: u64,
    /// Repairs with the head off at an unknown place, followed nowhere.
    pub unplaced: u64,
    /// Vehicles of the repairs followed.
    pub vehicles: u64,
    /// Next failures after the repair.
    pub after_events: u64,
    /// Distance from the repair to the next failure or the end of observation; of the cylinder for `same_cylinder`.
    pub after_m: i64,
    /// First failures in the same families and bands.
    pub first_events: u64,
    /// Distance before the first failure there; of all cylinders for `same_cylinder`.
    pub first_m: i64,
    /// Failures after the repair if they came as first failures do, given how many failures there were in each band.
    pub expected: f64,
    /// Rate after the repair over the rate of first failures, infinite (null in JSON) where there is no first failure.
    pub ratio: Option<Estimate>,
    /// p-value of a ratio of 1.
    pub p: f64,
    /// Families and bands compared.
    pub strata: usize,
    /// Failures after a repair where no first failure could be compared with, left out.
    pub left_out: u64,
}

/// The whole under another rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RepeatRule {
    /// Stable id, such as `window-15`.
    pub id: String,
    /// The rule in words.
    pub rule: String,
    /// Repairs in the curves.
    pub repairs: u64,
    /// Group with the highest mean, in words.
    pub highest: Option<String>,
    /// Whether that is another group than in the main answer.
    pub changes_verdict: bool,
}
