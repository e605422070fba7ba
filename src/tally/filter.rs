//! Which part of history a tally looks at, as parameters of its statements.

use serde::Serialize;

use crate::domain::day::Day;
use crate::domain::mileage_band::MileageBands;
use crate::query::literal::Value;

/// Which part of history counts; an empty list keeps everything, the unknown included.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Filter {
    /// Engine families.
    pub families: Vec<String>,
    /// Causes.
    pub causes: Vec<String>,
    /// Cylinders.
    pub cylinders: Vec<i64>,
    /// Sites: of the failure, and of the visit that ends a stretch of exposure.
    pub sites: Vec<String>,
    /// Model years.
    pub model_years: Vec<i64>,
    /// First day: failures that opened from here on, and exposure from the end of the day before.
    pub from: Option<Day>,
    /// Last day, inclusive.
    pub to: Option<Day>,
}

/// Which distance counts as exposure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Exposure {
    /// From the first time a vehicle was seen to shortly before the last time it was seen without trouble: no failure decides
    /// how far.
    #[default]
    Observed,
    /// To the last time it was seen, with or without trouble. Right only where that time does not depend on failures: a
    /// study with a fixed end, units read on fixed days.
    LastSighting,
    /// Beyond that, on to the cut-off at the vehicle's own pace: the bound on the other side.
    Carried,
}

/// Above every odometer: the upper edge of the open-ended last band. Half of the range, so that no sum overflows.
const ABOVE_ALL: i64 = i64::MAX / 4;

/// Parameters of one statement.
pub(super) type Parameters = Vec<(&'static str, Value)>;

/// A block that is there once if `wanted`, and not at all otherwise.
pub(super) fn switch(name: &'static str, wanted: bool) -> (&'static str, Value) {
    once(name, wanted.then_some(Value::Flag(true)))
}

/// A block that is there once if there is a value.
pub(super) fn once(name: &'static str, value: Option<Value>) -> (&'static str, Value) {
    (name, Value::Each(value.into_iter().collect()))
}

fn texts(name: &'static str, list: &[String]) -> (&'static str, Value) {
    once(
        name,
        (!list.is_empty()).then(|| Value::Texts(list.to_vec())),
    )
}

fn numbers(name: &'static str, list: &[i64]) -> (&'static str, Value) {
    once(name, (!list.is_empty()).then(|| Value::Ints(list.to_vec())))
}

impl Filter {
    /// Whether exposure must be cut by day.
    pub fn by_calendar(&self) -> bool {
        self.from.is_some() || self.to.is_some()
    }

    /// What exposure can be filtered by: cause and cylinder are not among it.
    pub(super) fn of_exposure(&self) -> Parameters {
        vec![
            texts("families", &self.families),
            texts("sites", &self.sites),
            numbers("model_years", &self.model_years),
        ]
    }

    /// What failures can be filtered by, cause apart.
    pub(super) fn of_events(&self) -> Parameters {
        let mut parameters = self.of_exposure();
        parameters.push(self.of_cylinders());
        parameters.push(once("from", self.from.map(Value::Day)));
        parameters.push(once("to", self.to.map(Value::Day)));
        parameters
    }

    pub(super) fn of_cylinders(&self) -> (&'static str, Value) {
        numbers("cylinders", &self.cylinders)
    }

    /// What readings of tests can be filtered by before they are judged, families apart.
    pub(super) fn of_readings(&self) -> Parameters {
        vec![
            texts("sites", &self.sites),
            numbers("model_years", &self.model_years),
            once("from", self.from.map(Value::Day)),
            once("to", self.to.map(Value::Day)),
        ]
    }

    /// What the choice of tests can be filtered by.
    pub(super) fn of_reading_counts(&self) -> Parameters {
        vec![
            texts("families", &self.families),
            texts("sites", &self.sites),
        ]
    }

    pub(super) fn of_causes(&self) -> (&'static str, Value) {
        texts("causes", &self.causes)
    }
}

/// Upper edges for summing exposure: all but the first lower edge, then one above everything.
pub(super) fn upper_edges(bands: &MileageBands) -> Value {
    let inner = bands.edges.iter().skip(1).copied();
    Value::Each(inner.chain([ABOVE_ALL]).map(Value::Int).collect())
}

/// Upper edges for placing a failure: below edge i+1 is band i, the rest is the last band. Bands are [lower, upper).
pub(super) fn placing(bands: &MileageBands) -> Parameters {
    let inner = bands.edges.iter().skip(1).map(|e| Value::Int(*e)).collect();
    let last = i64::try_from(bands.len().saturating_sub(1)).unwrap_or(i64::MAX);
    vec![
        ("upper", Value::Each(inner)),
        ("last_band", Value::Int(last)),
    ]
}
