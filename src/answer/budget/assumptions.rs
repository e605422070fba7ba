//! What a budget assumes, each with its source.

use super::jobs::Jobs;
use super::model::Model;
use super::options::Stated;
use super::types::{Assumption, BudgetQuestion};
use crate::answer::words;
use crate::domain::distance::DistanceUnit;

fn assumption(what: &str, value: impl Into<String>, source: &'static str) -> Assumption {
    Assumption {
        what: what.to_string(),
        value: value.into(),
        source,
    }
}

/// The assumptions, for people.
pub fn assumptions(
    question: &BudgetQuestion,
    model: &Model,
    jobs: &Jobs,
    stated: &Stated,
    distance: DistanceUnit,
) -> Vec<Assumption> {
    let mut list = vec![
        assumption(
            "life of an engine family",
            "Weibull, partially pooled over families; drawn with what the records leave open",
            "method",
        ),
        assumption(
            "after a repair",
            format!(
                "fails again at {} times the rate of a first failure ({} seen, {} expected at the same rate)",
                words::number(model.repeats.mean()),
                model.again,
                words::number(model.again_expected)
            ),
            "records",
        ),
        assumption(
            "several cylinders of one engine at once",
            "one repair",
            "method",
        ),
        assumption(
            "planned distances of the roster",
            format!("those of {} months, driven evenly", question.plan_months),
            if question.plan_months == question.months {
                "common practice"
            } else {
                "stated"
            },
        ),
        assumption(
            "odometers of the roster",
            format!("as they stand on {}", question.from),
            "common practice",
        ),
        assumption(
            "yearly inflation",
            format!("{:.1} %", 100.0 * question.inflation),
            if question.inflation == 0.0 {
                "common practice"
            } else {
                "stated"
            },
        ),
        assumption(
            "a family's repair costs",
            "its own records, with five of a family drawn anew beside them",
            "method",
        ),
        assumption(
            "distance a vehicle is kept after a repair",
            format!(
                "{} {}",
                words::large(distance.from_metres(stated.keep_m)),
                distance.symbol()
            ),
            if stated.keep_is_stated {
                "stated"
            } else {
                "common practice"
            },
        ),
        assumption(
            "share of these failures outside the head",
            words::percent(stated.bottom_end),
            "records",
        ),
    ];
    let minor = f64::from(10u32.pow(question.minor_digits.min(4)));
    if let Some(rate) = jobs.recorded_rate {
        list.push(assumption(
            "labour hour within the recorded costs",
            words::number(rate / minor),
            if question.recorded_rate.is_some() {
                "stated"
            } else {
                "records"
            },
        ));
    }
    if let Some(rate) = question.rate_per_hour {
        list.push(assumption(
            "labour hour budgeted",
            words::number(rate),
            "stated",
        ));
    }
    list
}
