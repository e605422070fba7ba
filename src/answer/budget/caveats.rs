//! What a reader must know before using a budget.

use super::jobs::Jobs;
use super::model::Model;
use super::types::{Budget, Outlook};
use crate::answer::parts::Caveat;
use crate::answer::words;

/// Below so many failures of all families together, too few costs are known to show how dear one can be: in simulation the ranges of
/// the cost held less than they say (`benches/coverage/README.md`), those of the count held.
const FEW_IN_ALL: u64 = 10;

fn caveat(id: &'static str, text: impl Into<String>) -> Caveat {
    Caveat {
        id,
        text: text.into(),
    }
}

/// Caveats of `budget`.
pub fn caveats(answer: &Budget, model: &Model, jobs: &Jobs) -> Vec<Caveat> {
    let mut out = vec![caveat(
        "range-not-promise",
        "The ranges hold for the roster as planned: units sold, added or driven otherwise move them, and so do a price list, a \
         service campaign or a change of fuel that the records do not know.",
    )];
    if answer.families.len() > 1 && answer.total.cost.is_some() {
        out.push(caveat(
            "reserves-do-not-add",
            "Ranges and reserves of families and months do not add up to those of the whole fleet: bad luck seldom strikes \
             everywhere at once. The whole fleet's reserve is the one to set aside.",
        ));
    }
    if !answer.bad_rows.is_empty() {
        out.push(caveat(
            "rows-left-out",
            format!(
                "{} of the roster could not be used and are in no number here; they are listed with the way out.",
                words::count(answer.bad_rows.len() as u64, "row")
            ),
        ));
    }
    let paced = answer
        .units
        .iter()
        .filter(|u| u.planned_from != "roster")
        .count();
    if paced > 0 {
        out.push(caveat(
            "planned-at-own-pace",
            format!(
                "{} without a planned distance: taken on at the pace of the last span the unit was seen in.",
                words::count(paced as u64, "unit")
            ),
        ));
    }
    if model.failures == 0 {
        out.push(caveat(
            "nothing-failed",
            "Nothing of this kind ever failed in these records. The figures are what the distance driven without a failure still \
             allows, not an expectation; read the upper ends only.",
        ));
    }
    if answer.total.cost.is_some() && (1..FEW_IN_ALL).contains(&model.failures) {
        out.push(caveat(
            "few-failures-in-all",
            format!(
                "{} of all families together: over invented fleets with about five, the 80 % range of the cost held 76 % and \
                 its 95 % range 92 %. Plan with the 95 % ends.",
                words::count(model.failures, "failure")
            ),
        ));
    }
    let borrowed: Vec<&str> = answer
        .families
        .iter()
        .filter(|f| f.failures < 5)
        .map(|f| f.title.as_str())
        .collect();
    if !borrowed.is_empty() && model.failures > 0 {
        out.push(caveat(
            "families-borrow",
            format!(
                "Fewer than five failures each, so mostly judged by what all families have in common: {}.",
                borrowed.join("; ")
            ),
        ));
    }
    out.push(caveat(
        "weibull-lives",
        "Lives follow a Weibull distribution in each family; `boretally life` shows whether another would fit better.",
    ));
    out.extend(costs(&answer.total, jobs));
    out.extend(rate(answer, jobs));
    out.push(caveat(
        "owner-decides",
        "A comparison of repair and replacement informs the owner's decision; it does not judge a given engine. The vehicle maker's \
         information, local codes and licensed practice come first.",
    ));
    out
}

/// What a stated rate per hour could not do.
fn rate(answer: &Budget, jobs: &Jobs) -> Option<Caveat> {
    let rate = answer.question.rate_per_hour?;
    if jobs.recorded_rate.is_none() {
        return Some(caveat(
            "rate-without-effect",
            format!(
                "A rate of {} per hour is asked for and changes no cost: too few recorded jobs have hours and a cost to tell what \
                 rate theirs hold. Say it with --recorded-rate.",
                words::number(rate)
            ),
        ));
    }
    (jobs.without_hours > 0).then(|| {
        caveat(
            "costs-without-hours",
            format!(
                "{} with a cost and without labour hours: the rate per hour asked for does not move them.",
                words::count(jobs.without_hours, "job")
            ),
        )
    })
}

fn costs(total: &Outlook, jobs: &Jobs) -> Vec<Caveat> {
    let mut out = Vec::new();
    if total.cost.is_none() {
        out.push(caveat(
            "no-costs",
            "No repair of this kind has a cost in the records, so there is no money here; map `cost` and `currency` in the findings.",
        ));
    }
    let left_out = [
        (jobs.not_done, "declined, or ended by retiring the vehicle"),
        (jobs.free, "free of charge (warranty, goodwill)"),
        (jobs.unpriced, "without a cost"),
        (jobs.other_currency, "in another currency"),
    ];
    let listed: Vec<String> = left_out
        .iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, what)| format!("{n} {what}"))
        .collect();
    if !listed.is_empty() {
        out.push(caveat(
            "jobs-not-priced",
            format!(
                "Jobs that count as failures but not into the price: {}. They are not averaged as 0; whoever pays, a repair is \
                 budgeted at what paid ones cost.",
                listed.join(", ")
            ),
        ));
    }
    if jobs.without_year > 0 {
        out.push(caveat(
            "price-year-unknown",
            format!(
                "{} without a price year: taken at the year the case was closed.",
                words::count(jobs.without_year, "job")
            ),
        ));
    }
    out
}
