//! `repeats` in plain words.

use super::compute::{FEWEST_AT_RISK, enough_at_risk, highest};
use super::types::{Comeback, MeanPoint, RepeatGroup, Repeats, SecondFailure};
use crate::answer::parts::Estimate;
use crate::answer::words;
use crate::domain::distance::DistanceUnit;

/// Fewest repairs of a kind for its comeback share to be named first.
const FEWEST_REPAIRS: u64 = 10;

/// The answer in plain words: the mean, the group that stands out, comebacks, failures after a repair.
pub fn verdict(answer: &Repeats) -> Vec<String> {
    let unit = answer.distance_unit();
    let mut lines = Vec::new();
    if answer.groups.iter().all(|g| g.evidence.events == 0) {
        lines.push(
            "No repair of a vehicle under observation stands at a known place on its engine's clock, so there is no mean number of \
             repairs."
                .to_string(),
        );
    } else if let [group] = answer.groups.as_slice() {
        lines.extend(alone(group, unit));
    } else {
        lines.extend(compared(answer, unit));
    }
    lines.extend(difference(answer, unit));
    lines.extend(cost(answer, unit));
    lines.extend(comeback(&answer.comebacks));
    lines.extend(answer.second_failures.iter().map(|s| second(s, unit)));
    lines
}

fn place(metres: i64, unit: DistanceUnit) -> String {
    format!(
        "{} {}",
        words::large(unit.from_metres(metres)),
        unit.symbol()
    )
}

/// The last place with enough vehicles under observation, else the last of all.
pub fn well_watched(points: &[MeanPoint], least: u64) -> Option<(&MeanPoint, &Estimate)> {
    let with = |p| Some((p, MeanPoint::mean(p)?));
    let enough = points.iter().rev().filter(|p| p.at_risk >= least);
    enough
        .filter_map(with)
        .next()
        .or_else(|| points.iter().rev().find_map(with))
}

impl MeanPoint {
    fn mean(&self) -> Option<&Estimate> {
        self.mean.as_ref()
    }
}

fn alone(group: &RepeatGroup, unit: DistanceUnit) -> Vec<String> {
    let Some((point, mean)) = well_watched(&group.at, enough_at_risk(group)) else {
        return Vec::new();
    };
    let mut lines = vec![format!(
        "By {} a vehicle has had {} repairs on average ({}), from {} by then; {} under observation in all.",
        place(point.distance_m, unit),
        words::number(mean.value),
        words::interval(mean),
        words::count(point.repairs, "repair"),
        words::count(group.evidence.vehicles, "vehicle"),
    )];
    if let Some(trend) = group.trend.as_ref().filter(|t| t.p < 0.05) {
        lines.push(format!(
            "Repairs come {} with distance than a constant rate would bring them (Laplace {}, p {}).",
            if trend.laplace > 0.0 { "faster" } else { "slower" },
            words::number(trend.laplace),
            p(trend.p)
        ));
    }
    lines
}

fn compared(answer: &Repeats, unit: DistanceUnit) -> Option<String> {
    let at = answer.compared_at_m;
    let point = |g: &RepeatGroup| {
        let point = g.at.iter().find(|p| Some(p.distance_m) == at)?;
        point
            .mean
            .clone()
            .filter(|_| point.at_risk >= FEWEST_AT_RISK)
    };
    let top = highest(&answer.groups, at)?;
    let mean = point(top)?;
    let least = answer
        .groups
        .iter()
        .filter(|g| !g.key.has_unknown())
        .filter_map(|g| Some((g, point(g)?)))
        .min_by(|a, b| a.1.value.total_cmp(&b.1.value));
    let mut line = format!(
        "By {} most repairs a vehicle: {}, {} on average ({})",
        place(at?, unit),
        top.key.title(),
        words::number(mean.value),
        words::interval(&mean)
    );
    if let Some((group, low)) = least.filter(|(g, _)| g.key != top.key) {
        line += &format!(
            "; fewest: {}, {} ({})",
            group.key.title(),
            words::number(low.value),
            words::interval(&low)
        );
    }
    Some(line + ".")
}

fn difference(answer: &Repeats, unit: DistanceUnit) -> Option<String> {
    let known: Vec<&RepeatGroup> = answer
        .groups
        .iter()
        .filter(|g| !g.key.has_unknown())
        .collect();
    let [first, second] = known.as_slice() else {
        return None;
    };
    let row = answer
        .differences
        .iter()
        .rev()
        .find(|d| Some(d.distance_m) <= answer.compared_at_m)
        .or_else(|| answer.differences.last())?;
    let e = &row.difference;
    let apart = e.lower > 0.0 || e.upper.is_some_and(|u| u < 0.0);
    Some(format!(
        "At {} {} has had {} repairs {} than {} ({}): {}.",
        place(row.distance_m, unit),
        first.key.title(),
        words::number(e.value.abs()),
        if e.value < 0.0 { "fewer" } else { "more" },
        second.key.title(),
        words::interval(e),
        if apart {
            "more than chance would often give"
        } else {
            "chance alone could give that"
        }
    ))
}

fn cost(answer: &Repeats, unit: DistanceUnit) -> Option<String> {
    let [group] = answer.groups.as_slice() else {
        return None;
    };
    let cost = group.cost.as_ref()?;
    let (point, mean) = well_watched(&cost.at, enough_at_risk(group))?;
    Some(format!(
        "By {} repairs have cost {} {} a vehicle on average at prices of {} ({}); {} of {} are priced in that money.",
        place(point.distance_m, unit),
        words::large(mean.value),
        cost.currency,
        cost.price_year,
        words::interval(mean),
        cost.priced,
        words::count(group.evidence.events, "repair")
    ))
}

/// The repair that comes back most, among those that are frequent enough to say.
fn comeback(rows: &[Comeback]) -> Option<String> {
    let share = |c: &Comeback| c.share.as_ref().map_or(0.0, |e| e.lower);
    let frequent = rows
        .iter()
        .filter(|c| c.repairs >= FEWEST_REPAIRS && !c.key.has_unknown());
    let all: u64 = rows.iter().map(|c| c.repairs).sum();
    let returned: u64 = rows.iter().map(|c| c.came_back).sum();
    if all == 0 {
        return None;
    }
    let mut line = format!(
        "{returned} of {} came back as the same failure",
        words::count(all, "repair")
    );
    let most = frequent
        .filter(|c| c.came_back > 0)
        .max_by(|a, b| share(a).total_cmp(&share(b)));
    if let Some((most, e)) = most.and_then(|c| Some((c, c.share.as_ref()?))) {
        let who = match most.key.0.is_empty() {
            true => String::new(),
            false => format!(" ({})", most.key.title()),
        };
        line += &format!(
            "; surest to come back: {}{who}, {} of {} ({:.0} % {} to {})",
            most.title,
            most.came_back,
            most.repairs,
            100.0 * e.level,
            words::percent(e.lower),
            words::percent(e.upper.unwrap_or(1.0))
        );
    }
    Some(line + ".")
}

fn second(row: &SecondFailure, unit: DistanceUnit) -> String {
    let what = match row.what {
        "any_cylinder" => "an engine failed again",
        _ => "the same cylinder failed again",
    };
    let first = match row.what {
        "any_cylinder" => "engines",
        _ => "cylinders",
    };
    let seen = format!(
        "{} in {}",
        words::count(row.after_events, "failure"),
        place(row.after_m, unit)
    );
    match row.ratio.as_ref() {
        Some(r) if r.value.is_finite() => {
            let upper = r.upper.unwrap_or(f64::INFINITY);
            let judged = if r.lower > 1.0 {
                "more often than chance would give"
            } else if upper < 1.0 {
                "less often than chance would give"
            } else {
                "no difference that chance could not give"
            };
            format!(
                "After a repair with the head off {what} {} times as often ({}) as {first} fail for the first time at the same \
                 distance: {seen}, {} expected; {judged}.",
                words::number(r.value),
                words::interval(r),
                words::number(row.expected)
            )
        }
        _ => format!(
            "After a repair with the head off: {seen}; no first failure at the same distance to compare with ({what})."
        ),
    }
}

fn p(value: f64) -> String {
    if value < 0.001 {
        "below 0.001".to_string()
    } else {
        format!("{value:.3}")
    }
}
