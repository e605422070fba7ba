//! `life` in plain words.

use super::compared;
use super::distances::{TENTH, tenth};
use super::pooled::FEW;
use super::types::{GroupLife, Life, LifeFit, Status};
use crate::answer::label::{Label, Labels, RowKey};
use crate::answer::parts::Estimate;
use crate::answer::question::Question;
use crate::answer::words;
use crate::domain::distance::DistanceUnit;
use crate::tally::Dimension;

/// Groups that get a sentence of their own.
const MOST: usize = 4;

/// AIC differences up to this leave two distributions alike (Burnham & Anderson 2002, section 2.6).
const ALIKE: f64 = 2.0;

/// What fails, in words: the causes asked for, or any failure.
pub fn what(question: &Question, labels: Labels<'_>) -> String {
    let titles: Vec<String> = question.causes.iter().map(|id| labels.cause(id)).collect();
    let cylinder = match question.cylinders.as_slice() {
        [] => String::new(),
        [one] => format!(" in cylinder {one}"),
        several => {
            let list: Vec<String> = several.iter().map(i64::to_string).collect();
            format!(" in cylinders {}", list.join(", "))
        }
    };
    let cause = match titles.as_slice() {
        [] => "failure of any cause".to_string(),
        [one] => format!("case of {one}"),
        [a, b] => format!("case of {a} or {b}"),
        [a, b, c] => format!("case of {a}, {b} or {c}"),
        several => format!("failure of {} causes", several.len()),
    };
    cause + &cylinder
}

/// Whose life it is where groups are not split by family.
pub fn whose(question: &Question, labels: Labels<'_>) -> String {
    match question.families.as_slice() {
        [] => "all engines".to_string(),
        [one] => labels.family(one),
        several => format!("{} engine families", several.len()),
    }
}

impl Life {
    /// The reader's distance unit.
    pub fn unit(&self) -> DistanceUnit {
        if self.question.units == "us" {
            DistanceUnit::Mile
        } else {
            DistanceUnit::Kilometre
        }
    }

    /// What fails in a group: its own cause and cylinder where they are told apart.
    pub fn what_of(&self, key: &RowKey) -> String {
        let title = |d: Dimension| key.part(d).map(|l: &Label| l.title.clone());
        let cause = title(Dimension::Cause)
            .map_or_else(|| self.what.clone(), |cause| format!("case of {cause}"));
        match title(Dimension::Cylinder) {
            Some(cylinder) => format!("{cause} in {cylinder}"),
            None => cause,
        }
    }

    /// Whose life it is: the group's family, site and model year.
    pub fn who(&self, key: &RowKey) -> String {
        let parts: Vec<&str> = key
            .0
            .iter()
            .filter(|l| !matches!(l.dimension, Dimension::Cause | Dimension::Cylinder))
            .map(|l| l.title.as_str())
            .collect();
        let split = key.part(Dimension::Family).is_some();
        let whose = (!split).then_some(self.whose.as_str());
        whose
            .into_iter()
            .chain(parts)
            .collect::<Vec<_>>()
            .join(", ")
    }
}

/// The answer in sentences.
pub fn verdict(life: &Life) -> Vec<String> {
    let mut told: Vec<&GroupLife> = life
        .groups
        .iter()
        .filter(|g| !g.key.has_unknown())
        .collect();
    // Who reaches 10 % first comes first; then who has failed most often.
    told.sort_by(|a, b| {
        let at = |g: &GroupLife| tenth(g).map_or(f64::INFINITY, |e| e.value);
        at(a)
            .total_cmp(&at(b))
            .then(b.evidence.events.cmp(&a.evidence.events))
    });
    let mut lines: Vec<String> = told.iter().take(MOST).map(|g| group(life, g)).collect();
    if told.len() > MOST {
        lines.push(format!(
            "{} more in the table.",
            words::count(told.len() as u64 - MOST as u64, "group")
        ));
    }
    if let [only] = life.groups.as_slice() {
        lines.extend(only.ahead.is_some().then(|| ahead(life, only)));
        lines.extend(best(only));
        lines.extend(first_causes(life, only));
    }
    lines.extend(
        life.comparisons
            .iter()
            .flat_map(|c| compared::lines(life, c)),
    );
    lines
}

/// One group in one sentence.
pub fn group(life: &Life, group: &GroupLife) -> String {
    let (who, what) = (life.who(&group.key), life.what_of(&group.key));
    let again = life.clock == "repair";
    let event = if again {
        format!("had the next {what}")
    } else {
        format!("had a first {what}")
    };
    let whose = if again {
        format!("repairs of {who}")
    } else {
        who.clone()
    };
    let evidence = format!(
        "from {} in {}",
        words::count(group.evidence.events, "failure"),
        if again {
            words::count(group.lives, "repair")
        } else {
            words::count(group.evidence.vehicles, "vehicle")
        }
    );
    match group.status {
        Status::NothingObserved => {
            format!("{who}: no distance is under observation, so nothing can be told of {what}.")
        }
        Status::NoFailure | Status::OneFailure => few(life, group, &who, &what, &evidence),
        Status::Estimated => match tenth(group).filter(|e| well_met(group, e)) {
            Some(e) => format!(
                "{} of {whose} have {event} by {} ({}){}, {evidence}.",
                words::share(TENTH),
                words::distance(e.value, life.unit()),
                limits(e, life.unit()),
                given(life, group),
            ),
            None => not_reached(life, group, &whose, &event, &evidence),
        },
    }
}

/// Whether enough engines came as far as a distance; where never so many were watched, that is said elsewhere.
fn well_met(group: &GroupLife, e: &Estimate) -> bool {
    group
        .well_filled_to_m
        .is_none_or(|filled| e.value <= filled as f64)
}

/// What the curve is conditional on, unless it begins at the start.
fn given(life: &Life, group: &GroupLife) -> String {
    let begins = group.from_m.unwrap_or(0);
    if begins > 0 {
        let far = words::distance(begins as f64, life.unit());
        format!(" of those that reach {far} without it")
    } else {
        String::new()
    }
}

/// `95 % interval 160 000 to 201 000 km`.
fn limits(e: &Estimate, unit: DistanceUnit) -> String {
    let level = format!("{:.0} % interval", 100.0 * e.level);
    let lower = words::distance(e.lower, unit);
    match e.upper {
        Some(upper) => {
            let lower = lower.replace(&format!(" {}", unit.word()), "");
            format!("{level} {lower} to {}", words::distance(upper, unit))
        }
        None => format!("{level} {lower} or more"),
    }
}

fn not_reached(life: &Life, group: &GroupLife, who: &str, event: &str, evidence: &str) -> String {
    let told = group
        .milestones
        .iter()
        .rev()
        .find(|m| m.survival.is_some() && Some(m.distance_m) <= group.well_filled_to_m)
        .or_else(|| group.milestones.iter().rev().find(|m| m.survival.is_some()));
    let Some((m, s)) = told.and_then(|m| m.survival.as_ref().map(|s| (m, s))) else {
        return format!("{who}: how many have {event} cannot be told, {evidence}.");
    };
    let beyond = match tenth(group) {
        None => "the distance by which 10 % have is beyond what was observed",
        Some(_) => "too few came far enough to tell by which distance 10 % have",
    };
    format!(
        "By {} {} of {who} have {event} ({:.0} % interval {} to {}){}, {evidence}; {beyond}.",
        words::distance(m.distance_m as f64, life.unit()),
        words::share(1.0 - s.value),
        100.0 * s.level,
        words::share(1.0 - s.upper.unwrap_or(1.0)),
        words::share(1.0 - s.lower),
        given(life, group),
    )
}

fn few(life: &Life, group: &GroupLife, who: &str, what: &str, evidence: &str) -> String {
    let unit = life.unit();
    let driven = group
        .evidence
        .exposure_m
        .map_or(String::new(), |m| words::distance(m as f64, unit));
    let Some(bound) = &group.bound else {
        return format!("{who}: {evidence}, too few to tell more.");
    };
    let count = if group.evidence.events == 0 {
        "no"
    } else {
        "one"
    };
    format!(
        "{who}: {count} {what} in {driven} of {}: with {:.0} % confidence the rate is below {} per 100 000 {}.",
        words::count(
            group.lives,
            if life.clock == "repair" {
                "repair"
            } else {
                "engine"
            }
        ),
        100.0 * bound.rate.level,
        words::number(bound.rate_at_most),
        unit.symbol()
    )
}

fn ahead(life: &Life, group: &GroupLife) -> String {
    let unit = life.unit();
    let Some(ahead) = &group.ahead else {
        return String::new();
    };
    let over = words::distance(ahead.over_m as f64, unit);
    let reached = if ahead.from_m == 0 {
        format!("Over the first {over}")
    } else {
        format!(
            "Having come {} without it, over the next {over}",
            words::distance(ahead.from_m as f64, unit)
        )
    };
    match &ahead.observed {
        Some(e) => format!(
            "{reached} the probability to fail is {} ({:.0} % interval {} to {}).",
            words::share(e.value),
            100.0 * e.level,
            words::share(e.lower),
            words::share(e.upper.unwrap_or(1.0))
        ),
        None => match ahead.fits.first() {
            Some(fit) => format!(
                "{reached} the probability to fail is {} by the {} distribution ({:.0} % interval {} to {}).",
                words::share(fit.probability.value),
                fit.distribution,
                100.0 * fit.probability.level,
                words::share(fit.probability.lower),
                words::share(fit.probability.upper.unwrap_or(1.0))
            ),
            None => format!(
                "{reached} the probability to fail cannot be told: {}.",
                ahead.why.as_deref().unwrap_or("the data do not reach")
            ),
        },
    }
}

/// Which distribution fits best, and by how much; nothing where too few failures tell a shape.
pub fn best(group: &GroupLife) -> Option<String> {
    let fits: &[LifeFit] = &group.fits;
    let first = fits.first().filter(|_| group.evidence.events >= FEW)?;
    let alike: Vec<&str> = fits
        .iter()
        .skip(1)
        .filter(|f| f.aic_behind < ALIKE)
        .map(|f| f.distribution)
        .collect();
    let wear = first
        .parameters
        .iter()
        .find(|p| first.distribution == "weibull" && p.name == "shape")
        .map(|p| wear(&p.estimate));
    let against = if alike.is_empty() {
        let next = fits.get(1).map(|f| {
            format!(
                "; the next, {}, is {} AIC units behind",
                f.distribution,
                words::number(f.aic_behind)
            )
        });
        next.unwrap_or_default()
    } else {
        format!(
            "; {} fits as well (less than {ALIKE} AIC units behind)",
            alike.join(" or ")
        )
    };
    Some(format!(
        "Best fit: {}{against}{}.",
        first.distribution,
        wear.unwrap_or_default()
    ))
}

/// What a Weibull shape says.
fn wear(shape: &Estimate) -> String {
    let interval = words::interval(shape);
    let says = if shape.lower > 1.0 {
        "the rate rises with distance, as wear does"
    } else if shape.upper.is_some_and(|u| u < 1.0) {
        "the rate falls with distance, as early defects do"
    } else {
        "a constant rate is compatible with it"
    };
    format!(
        "; shape {} ({interval}): {says}",
        words::number(shape.value)
    )
}

fn first_causes(life: &Life, group: &GroupLife) -> Option<String> {
    let end = group.well_filled_to_m?;
    let by_end: Vec<String> = group
        .incidence
        .iter()
        .filter_map(|c| {
            let step = c.steps.iter().rev().find(|s| s.distance_m <= end)?;
            Some(format!("{} {}", c.title, words::share(step.share)))
        })
        .take(3)
        .collect();
    (by_end.len() > 1).then(|| {
        format!(
            "What fails first, up to {}: {}.",
            words::distance(end as f64, life.unit()),
            by_end.join(", ")
        )
    })
}
