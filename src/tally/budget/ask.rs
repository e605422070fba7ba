//! Which failures a budget counts, and what was known when.

use crate::domain::day::Day;
use crate::query::literal::Value;
use crate::tally::filter::Parameters;

/// The failures budgeted for, as records told of them up to a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BudgetAsk {
    /// Causes, by id; never empty.
    pub causes: Vec<String>,
    /// Least confirmation level of a finding that counts.
    pub confirmation: i64,
    /// Last day that is known.
    pub last_day: Day,
}

impl BudgetAsk {
    pub(super) fn causes(&self) -> (&'static str, Value) {
        ("causes", Value::Texts(self.causes.clone()))
    }

    pub(super) fn last_day(&self) -> (&'static str, Value) {
        ("last_day", day(self.last_day))
    }

    pub(super) fn of_jobs(&self) -> Parameters {
        vec![
            self.causes(),
            self.last_day(),
            ("confirmation", Value::Int(self.confirmation)),
        ]
    }
}

pub(super) fn day(day: Day) -> Value {
    Value::Int(i64::from(day.0))
}
