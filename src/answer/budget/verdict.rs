//! The budget in plain words.

use super::types::{Budget, Expected};
use crate::answer::words;

/// A few sentences, the first thing to read.
pub fn verdict(answer: &Budget) -> Vec<String> {
    let total = &answer.total;
    if total.units == 0 {
        return vec!["No unit of the roster could be used, so there is no budget.".to_string()];
    }
    let months = answer.question.months;
    let mut lines = vec![format!(
        "{} over {}: {} repairs expected, 80 % range {}.",
        words::count(total.units, "unit"),
        words::count(months.into(), "month"),
        words::number(total.count.expected),
        range(&total.count, |x| format!("{x:.0}")),
    )];
    if let (Some(cost), Some(reserve)) = (&total.cost, &total.reserve) {
        lines.push(format!(
            "Expected cost {}, 80 % range {}; a reserve of {} suffices with {} confidence, and if it does not, {} is missing on average.",
            money(answer, cost.expected),
            range(cost, amount),
            money(answer, reserve.amount),
            words::percent(reserve.confidence),
            money(answer, reserve.mean_excess),
        ));
    }
    lines.extend(small_fleet(answer));
    lines.extend(biggest(answer));
    if let Some(unit) = answer.units.first().filter(|_| answer.units.len() > 1) {
        lines.push(format!(
            "Look first at {}: {} chance of a repair ({}).",
            unit.unit,
            words::percent(unit.probability),
            unit.reason
        ));
    }
    lines
}

/// Few repairs expected: the average year never happens.
fn small_fleet(answer: &Budget) -> Option<String> {
    let total = &answer.total;
    if total.most_likely > 0 {
        return None;
    }
    let one = answer
        .families
        .iter()
        .filter_map(|f| f.cost_per_repair.as_ref())
        .map(|e| e.value)
        .reduce(f64::max);
    let costs = one.map_or_else(String::new, |one| {
        format!(", but one costs about {}", money(answer, one))
    });
    Some(format!(
        "Most likely none ({} chance){costs}: the expected value is an average over many such fleets and no bill that will come.",
        words::percent(total.none)
    ))
}

/// What the spread comes from.
fn biggest(answer: &Budget) -> Option<String> {
    let few: f64 = answer
        .drivers
        .iter()
        .map(|d| d.few_failures + d.few_costs)
        .sum();
    let first = answer.drivers.iter().find(|d| d.family != "all")?;
    let title = answer
        .families
        .iter()
        .find(|f| f.family == first.family)
        .map_or(first.family.as_str(), |f| f.title.as_str());
    let known = answer.if_known.as_ref().map_or_else(String::new, |known| {
        format!(
            ": were every chance and cost known exactly, the 80 % range would still be {}",
            range(known, amount)
        )
    });
    Some(format!(
        "{} makes {} of the spread. Few records make {} of all spread; the rest is chance that no record takes away{known}.",
        title,
        words::percent(first.share),
        words::percent(few),
    ))
}

/// The 80 % range in words.
fn range(expected: &Expected, show: impl Fn(f64) -> String) -> String {
    expected
        .ranges
        .iter()
        .find(|r| r.level == 0.8)
        .map_or_else(String::new, |r| {
            format!("{} to {}", show(r.lower), show(r.upper))
        })
}

/// An amount to three digits, thousands in groups.
pub fn amount(x: f64) -> String {
    let magnitude = if x.abs() >= 1.0 {
        x.abs().log10().floor()
    } else {
        0.0
    };
    let unit = 10f64.powf((magnitude - 2.0).max(0.0));
    let rounded = (x / unit).round() * unit;
    words::grouped(&format!("{rounded:.0}"))
}

/// An amount with its currency.
pub fn money(answer: &Budget, x: f64) -> String {
    match &answer.question.currency {
        Some(currency) => format!("{} {currency}", amount(x)),
        None => amount(x),
    }
}
