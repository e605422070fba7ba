//! What was asked, as an answer repeats it: filters, period, rules and units, so that a number can be made again.

use serde::Serialize;

use crate::domain::day::Day;
use crate::domain::distance::{DistanceUnit, UnitSystem};
use crate::tally::{Dimension, Exposure, Filter};

/// The filters and rules behind an answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Question {
    /// Engine family ids; empty means all.
    pub families: Vec<String>,
    /// Cause ids; empty means all.
    pub causes: Vec<String>,
    /// Cylinder numbers; empty means all.
    pub cylinders: Vec<i64>,
    /// Sites; empty means all.
    pub sites: Vec<String>,
    /// Model years; empty means all.
    pub model_years: Vec<i64>,
    /// First day counted.
    pub from: Option<Day>,
    /// Last day counted.
    pub to: Option<Day>,
    /// What the rows are split by.
    pub by: Vec<&'static str>,
    /// Least confirmation level that counts.
    pub confirmation: u8,
    /// Comeback window in days.
    pub window_days: i64,
    /// Comeback window in metres.
    pub window_m: i64,
    /// `observed`, `last_sighting` or `carried`.
    pub exposure: &'static str,
    /// `metric` or `us`.
    pub units: &'static str,
    /// Confidence level of the intervals.
    pub level: f64,
    /// Interval method id.
    pub method: String,
}

/// The rules that are not filters.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// Least confirmation level that counts.
    pub confirmation: u8,
    /// Comeback window in days.
    pub window_days: i64,
    /// Comeback window in metres.
    pub window_m: i64,
    /// How exposure after the last visit is treated.
    pub exposure: Exposure,
    /// Units of the reader.
    pub units: UnitSystem,
    /// Confidence level.
    pub level: f64,
    /// Interval method id.
    pub method: String,
}

impl Question {
    /// The question a filter, its dimensions and its rules ask.
    pub fn new(filter: &Filter, by: &[Dimension], rules: &Rules) -> Self {
        Self {
            families: filter.families.clone(),
            causes: filter.causes.clone(),
            cylinders: filter.cylinders.clone(),
            sites: filter.sites.clone(),
            model_years: filter.model_years.clone(),
            from: filter.from,
            to: filter.to,
            by: by.iter().map(|d| d.name()).collect(),
            confirmation: rules.confirmation,
            window_days: rules.window_days,
            window_m: rules.window_m,
            exposure: match rules.exposure {
                Exposure::Observed => "observed",
                Exposure::LastSighting => "last_sighting",
                Exposure::Carried => "carried",
            },
            units: match rules.units {
                UnitSystem::Metric => "metric",
                UnitSystem::Us => "us",
            },
            level: rules.level,
            method: rules.method.clone(),
        }
    }

    /// The question in lines for people.
    pub fn lines(&self) -> Vec<String> {
        let list = |name: &str, ids: Vec<String>| {
            (!ids.is_empty()).then(|| format!("{name}: {}", ids.join(", ")))
        };
        let numbers = |v: &[i64]| v.iter().map(i64::to_string).collect::<Vec<_>>();
        let mut lines: Vec<String> = [
            list("engine family", self.families.clone()),
            list("cause", self.causes.clone()),
            list("cylinder", numbers(&self.cylinders)),
            list("site", self.sites.clone()),
            list("model year", numbers(&self.model_years)),
        ]
        .into_iter()
        .flatten()
        .collect();
        match (self.from, self.to) {
            (None, None) => {}
            (from, to) => lines.push(format!(
                "period: {} to {}",
                from.map_or("the first record".to_string(), |d| d.to_string()),
                to.map_or("the last record".to_string(), |d| d.to_string())
            )),
        }
        lines.push(format!(
            "counted: confirmation level {} and above ({}); comebacks within {} days and {} km are the same failure",
            self.confirmation,
            match self.confirmation {
                0 => "parts fitted is enough",
                1 => "fix verified, seen or measured",
                2 => "seen or measured",
                _ => "measured after tear-down",
            },
            self.window_days,
            DistanceUnit::Kilometre.from_metres(self.window_m).round()
        ));
        lines
    }
}
