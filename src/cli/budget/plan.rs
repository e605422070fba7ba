//! What is budgeted, once typed options are checked against the store.

use crate::answer::budget::jobs::Prices;
use crate::answer::budget::options::Stated;
use crate::answer::budget::types::BudgetQuestion;
use crate::cli::question::Asked;
use crate::domain::catalog::{Catalog, HeadOff, Kind};
use crate::domain::currency;
use crate::domain::day::Day;
use crate::domain::distance::UnitSystem;
use crate::domain::problem::{Problem, Result};

/// What is budgeted and how, whatever the roster.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// `head`, or the causes as typed.
    pub repairs: String,
    /// Causes, by id.
    pub causes: Vec<String>,
    /// First day; the day after the last record if none.
    pub from: Option<Day>,
    /// Months.
    pub months: u32,
    /// Months the roster's planned distances are for; all of the period if none.
    pub plan_months: Option<u32>,
    /// Currency.
    pub currency: Option<String>,
    /// Price year; that of the first day if none.
    pub price_year: Option<i64>,
    /// Yearly inflation.
    pub inflation: f64,
    /// Rate per labour hour, in major units.
    pub rate_per_hour: Option<f64>,
    /// Rate per labour hour that recorded costs hold, in major units.
    pub recorded_rate: Option<f64>,
    /// Cost of a repair in the comparison with replacement, in major units.
    pub repair_cost: Option<f64>,
    /// Cost of a head replacement, in major units.
    pub head_cost: Option<f64>,
    /// Cost of an engine replacement, in major units.
    pub engine_cost: Option<f64>,
    /// Distance kept after a repair, in metres; [`KEPT_M`] if none.
    pub keep_m: Option<i64>,
    /// Confidence of the reserve.
    pub confidence: f64,
    /// Seed.
    pub seed: u64,
    /// Draws.
    pub draws: usize,
    /// Units people read.
    pub units: UnitSystem,
}

/// Distance a vehicle is kept after a repair where nothing is stated: 100,000 km (common practice, no source).
const KEPT_M: i64 = 100_000_000;

impl Plan {
    /// All head-off repairs over twelve months, under the usual rules.
    pub fn usual(catalog: &Catalog, units: UnitSystem) -> Self {
        Self {
            repairs: "head".to_string(),
            causes: head_off(catalog),
            from: None,
            months: 12,
            plan_months: None,
            currency: None,
            price_year: None,
            inflation: 0.0,
            rate_per_hour: None,
            recorded_rate: None,
            repair_cost: None,
            head_cost: None,
            engine_cost: None,
            keep_m: None,
            confidence: 0.9,
            seed: 1,
            draws: 1000,
            units,
        }
    }

    /// The question for a period, with what the records tell of it.
    ///
    /// # Errors
    /// A period outside the calendar.
    pub fn question(&self, asked: &Asked, known_to: Day) -> Result<BudgetQuestion> {
        let from = self.from.unwrap_or(Day(known_to.0.saturating_add(1)));
        Ok(BudgetQuestion {
            repairs: self.repairs.clone(),
            causes: self.causes.clone(),
            from,
            months: self.months,
            known_to,
            confirmation: u8::try_from(asked.options.confirmation).unwrap_or(0),
            window_days: asked.options.window_days,
            window_m: asked.options.window_m,
            currency: self.currency.clone(),
            minor_digits: 2,
            price_year: self.price_year.unwrap_or(i64::from(from.year())),
            inflation: self.inflation,
            rate_per_hour: self.rate_per_hour,
            recorded_rate: self.recorded_rate,
            plan_months: self.plan_months.unwrap_or(self.months),
            keep_m: self.keep_m.unwrap_or(KEPT_M),
            confidence: self.confidence,
            seed: self.seed,
            draws: self.draws,
            simulations: 0,
            units: match self.units {
                UnitSystem::Metric => "metric",
                UnitSystem::Us => "us",
            },
        })
    }

    /// How jobs are priced; `currency` is that of the budget, `minor` its minor units in a major one.
    pub fn prices(&self, question: &BudgetQuestion, minor: f64) -> Prices {
        Prices {
            currency: question.currency.clone(),
            price_year: question.price_year,
            inflation: self.inflation,
            rate_per_hour: self.rate_per_hour.map(|x| x * minor),
            recorded_rate: self.recorded_rate.map(|x| x * minor),
            window_days: question.window_days,
        }
    }

    /// What is stated for the comparison of repair and replacement.
    pub fn stated(&self, bottom_end: f64, minor: f64) -> Stated {
        Stated {
            repair_cost: self.repair_cost.map(|x| x * minor),
            head_cost: self.head_cost.map(|x| x * minor),
            engine_cost: self.engine_cost.map(|x| x * minor),
            keep_m: self.keep_m.unwrap_or(KEPT_M),
            keep_is_stated: self.keep_m.is_some(),
            bottom_end,
        }
    }
}

/// Causes that need the head off.
pub fn head_off(catalog: &Catalog) -> Vec<String> {
    let causes = catalog.causes().iter();
    let off = causes.filter(|cause| cause.head_off == HeadOff::Yes);
    off.map(|cause| cause.id.clone()).collect()
}

/// `head`, or a list of causes.
///
/// # Errors
/// A cause the catalog does not know, or none that needs the head off.
pub fn causes(typed: &[String], catalog: &Catalog) -> Result<Vec<String>> {
    let mut list: Vec<String> = Vec::new();
    for name in typed {
        if name == "head" {
            list.extend(head_off(catalog));
        } else {
            list.push(catalog.expect(Kind::Cause, name, "--repairs")?.to_string());
        }
    }
    list.sort();
    list.dedup();
    if list.is_empty() {
        return Err(Problem::usage("no cause to budget for")
            .field("--repairs")
            .remedy("write head, or causes of the catalog separated by commas"));
    }
    Ok(list)
}

/// The code of a currency.
///
/// # Errors
/// There is no such code.
pub fn currency_code(typed: &str) -> Result<String> {
    currency::parse(typed).map(str::to_string).ok_or_else(|| {
        Problem::usage("no such currency")
            .field("--currency")
            .value(typed)
            .remedy("give the code of ISO 4217, such as EUR")
    })
}
