//! The answer `budget` gives: its struct is the JSON contract `boretally.budget/1`.
//!
//! Money is in major units of `question.currency` at the prices of `question.price_year`; distances ending in `_m` are metres.

use serde::Serialize;

use crate::answer::parts::{Caveat, Estimate, Evidence};
use crate::domain::day::Day;

/// A budget with everything needed to judge it.
#[derive(Debug, Clone, Serialize)]
pub struct Budget {
    /// What was asked.
    pub question: BudgetQuestion,
    /// Plain words.
    pub verdict: Vec<String>,
    /// The whole roster.
    pub total: Outlook,
    /// By engine family.
    pub families: Vec<FamilyOutlook>,
    /// Month by month.
    pub months: Vec<MonthOutlook>,
    /// Unit by unit, the ones to look at first first.
    pub units: Vec<UnitOutlook>,
    /// Probability of each number of repairs, from 0 on.
    pub count_distribution: Vec<f64>,
    /// What the width of the cost range comes from.
    pub drivers: Vec<Driver>,
    /// The cost if every chance and cost were known as they are printed and recorded; absent where no cost is known.
    pub if_known: Option<Expected>,
    /// Money that suffices for the whole roster at other confidences, from an even chance to 99 %; empty where no cost is known.
    pub reserves: Vec<Reserve>,
    /// Repair against replacement.
    pub options: Vec<RepairOption>,
    /// Labour within the recorded costs; absent where hours or their rate are not known.
    pub labour: Option<Labour>,
    /// Rows of the roster that could not be used.
    pub bad_rows: Vec<BadRow>,
    /// What was assumed, and where it comes from.
    pub assumptions: Vec<Assumption>,
    /// What stands behind it.
    pub evidence: Evidence,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// Labour within the costs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Labour {
    /// Mean recorded hours of a repair.
    pub hours_per_repair: f64,
    /// Rate per hour that the costs here hold.
    pub rate_per_hour: f64,
}

/// What was asked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BudgetQuestion {
    /// `head`, or the causes as typed.
    pub repairs: String,
    /// Causes counted, by id.
    pub causes: Vec<String>,
    /// First day of the period.
    pub from: Day,
    /// Months it lasts.
    pub months: u32,
    /// Last day of the records used.
    pub known_to: Day,
    /// Least confirmation level that counts.
    pub confirmation: u8,
    /// Comeback window in days.
    pub window_days: i64,
    /// Comeback window in metres.
    pub window_m: i64,
    /// ISO 4217 code; absent where no cost is known.
    pub currency: Option<String>,
    /// Decimals of its minor unit.
    pub minor_digits: u32,
    /// Year whose prices all money is in.
    pub price_year: i64,
    /// Yearly inflation used to bring older prices to it.
    pub inflation: f64,
    /// Rate per labour hour, where stated.
    pub rate_per_hour: Option<f64>,
    /// Rate per labour hour that recorded costs hold, where stated.
    pub recorded_rate: Option<f64>,
    /// Months the roster's planned distances are for.
    pub plan_months: u32,
    /// Distance a vehicle is kept after a repair, in the comparison with replacement.
    pub keep_m: i64,
    /// Confidence of the reserve.
    pub confidence: f64,
    /// Seed of the simulation.
    pub seed: u64,
    /// Draws of the lives.
    pub draws: usize,
    /// Years simulated.
    pub simulations: usize,
    /// `metric` or `us`.
    pub units: &'static str,
}

/// A range that holds a stated share of what may happen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Range {
    /// Share of what may happen, such as 0.8.
    pub level: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// What to expect of a number that chance decides.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Expected {
    /// Expected value.
    pub expected: f64,
    /// 50, 80 and 95 % ranges.
    pub ranges: Vec<Range>,
}

/// The outlook of several units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outlook {
    /// Units counted.
    pub units: u64,
    /// Distance they are planned to drive.
    pub planned_m: i64,
    /// Number of repairs.
    pub count: Expected,
    /// The most likely number.
    pub most_likely: u64,
    /// Probability that there is none.
    pub none: f64,
    /// Cost of the repairs; absent where no cost is known.
    pub cost: Option<Expected>,
    /// Money that suffices at the confidence asked for.
    pub reserve: Option<Reserve>,
    /// Days off the road, from the day a case was opened to the day it was closed; absent where none is known.
    pub downtime_days: Option<Expected>,
}

/// Money set aside.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reserve {
    /// Confidence.
    pub confidence: f64,
    /// Amount.
    pub amount: f64,
    /// What is missing on average if it does not suffice.
    pub mean_excess: f64,
}

/// One family of the roster.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FamilyOutlook {
    /// Family id.
    pub family: String,
    /// Its title.
    pub title: String,
    /// The outlook.
    pub outlook: Outlook,
    /// Cost of one repair: mean with its interval.
    pub cost_per_repair: Option<Estimate>,
    /// First failures behind its life.
    pub failures: u64,
    /// Vehicles behind it.
    pub vehicles: u64,
    /// Distance under observation behind it.
    pub exposure_m: i64,
    /// Repairs with a cost of its own behind the cost.
    pub costed_repairs: u64,
    /// Shape of its life: median of the draws with their central 95 %.
    pub shape: Estimate,
}

/// One month.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MonthOutlook {
    /// Number from 1.
    pub month: u32,
    /// Its first day.
    pub from: Day,
    /// Repairs within it.
    pub count: Expected,
    /// Cost within it.
    pub cost: Option<Expected>,
    /// Cost from the first month to the end of this one.
    pub cost_so_far: Option<Expected>,
    /// Money that suffices to the end of this month at the confidence asked for.
    pub reserve_so_far: Option<Reserve>,
    /// Days off the road by repairs of this month.
    pub downtime_days: Option<Expected>,
}

/// One unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UnitOutlook {
    /// 1 for the one to look at first.
    pub rank: usize,
    /// The unit as the roster writes it.
    pub unit: String,
    /// Line of the roster.
    pub line: u64,
    /// Family id.
    pub family: String,
    /// Distance of its engine at the start.
    pub start_m: i64,
    /// Planned distance.
    pub planned_m: i64,
    /// `roster`, or `own pace` where the roster does not say.
    pub planned_from: &'static str,
    /// Probability of at least one repair.
    pub probability: f64,
    /// Expected repairs.
    pub expected: f64,
    /// Expected cost.
    pub cost: Option<f64>,
    /// Whether its engine has had such a repair, as far as the records know it.
    pub repaired: bool,
    /// Why it stands where it does.
    pub reason: String,
}

/// One source of the spread of the total cost (of the count, where no cost is known).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Driver {
    /// Family id, or `all` for what the families share.
    pub family: String,
    /// Share of the variance.
    pub share: f64,
    /// ... that is chance: which units fail, and what each costs. More records would not make it smaller.
    pub chance: f64,
    /// ... that is few failures: the life is not known better.
    pub few_failures: f64,
    /// ... that is few recorded costs.
    pub few_costs: f64,
}

/// One way of dealing with an engine that has failed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RepairOption {
    /// `repair`, `head_replacement`, `engine_replacement`.
    pub option: &'static str,
    /// In words.
    pub title: String,
    /// Recorded jobs with a cost.
    pub jobs: u64,
    /// `records`, `stated` or `unknown`.
    pub cost_from: &'static str,
    /// Cost of the job.
    pub cost: Option<Estimate>,
    /// Further repairs expected over the distance the vehicle is kept.
    pub further_repairs: Option<Estimate>,
    /// Cost of job and further repairs by distance, per 1,000 km or miles.
    pub cost_per_distance: Option<Estimate>,
    /// Distance from which on it is cheaper than the repair; absent where it never is within what may be driven.
    pub break_even_m: Option<i64>,
    /// Probability, as far as the records tell, that it is cheaper than the repair over the distance kept.
    pub cheaper: Option<f64>,
}

/// A row that could not be used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BadRow {
    /// Line of the roster.
    pub line: u64,
    /// The unit as the roster writes it.
    pub unit: String,
    /// Field.
    pub field: String,
    /// Value as found.
    pub value: String,
    /// What is wrong.
    pub problem: String,
    /// What to do about it.
    pub remedy: String,
}

/// Something assumed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Assumption {
    /// What.
    pub what: String,
    /// Value, with unit.
    pub value: String,
    /// `stated`, `records`, `common practice` or `method`.
    pub source: &'static str,
}
