//! What a reader of `life` must know, each with its numbers.

use super::model::WELL_FILLED;
use super::pooled::FEW;
use super::types::{GroupLife, Life, Status};
use crate::answer::caveats::{observed_distance, standing};
use crate::answer::label::RowKey;
use crate::answer::parts::Caveat;
use crate::answer::words;

fn caveat(id: &'static str, text: impl Into<String>) -> Caveat {
    Caveat {
        id,
        text: text.into(),
    }
}

/// The caveats of an answer.
pub fn life(life: &Life) -> Vec<Caveat> {
    let mut out = vec![subject(life)];
    out.extend(counted_apart(life));
    out.push(observed_distance(&life.question));
    out.extend(entry(life));
    out.push(caveat(
        "survivors",
        "Old distances hold only vehicles that lasted or were worth repairing. Retirement and an engine's replacement end \
         observation; where they come because of what is counted here, failures at high distance read too few.",
    ));
    let few = life
        .groups
        .iter()
        .filter(|g| g.status != Status::NothingObserved && g.evidence.events < FEW)
        .count();
    if few > 0 {
        out.push(caveat(
            "few-failures",
            format!(
                "Fewer than {FEW} first failures in {}: read the intervals, and trust no shape of their own.",
                words::count(few as u64, "group")
            ),
        ));
    }
    out.extend(shared(life));
    out.push(caveat(
        "no-extrapolation",
        format!(
            "Nothing is read off a distribution beyond the last distance at which {} or more were at risk.",
            WELL_FILLED
        ),
    ));
    if life.groups.iter().any(|g| g.incidence.len() > 1) {
        out.push(caveat(
            "first-of-several",
            "Shares by cause count the cause that came first and add up to all that failed; they are not what each cause alone \
             would do. For one cause by itself ask --by cause.",
        ));
    }
    out.extend(shares_compared(life));
    out.push(standing());
    out
}

/// What Gray's test rests on here.
fn shares_compared(life: &Life) -> Option<Caveat> {
    let compared = life.comparisons.iter().find(|c| !c.causes.is_empty())?;
    let from = compared.causes.iter().map(|c| c.from_m).max()?;
    let from = words::distance(from as f64, life.unit());
    let left_out: Vec<String> = compared.left_out.iter().map(RowKey::title).collect();
    let without = match left_out.as_slice() {
        [] => String::new(),
        _ => format!(
            " Not compared, because fewer than {WELL_FILLED} of them were at risk at every failure: {}.",
            left_out.join(", ")
        ),
    };
    Some(caveat(
        "shares-compared",
        format!(
            "Shares by cause are compared among lives that reach {from}, where every group was watched. Gray's test was made for \
             lives seen from the start; counting those that come under observation later as at risk from there on is an \
             extension, whose error rate is checked by simulation.{without}"
        ),
    ))
}

fn subject(life: &Life) -> Caveat {
    match life.clock {
        "repair" => caveat(
            "since-repair",
            "Every failure that counts is taken as repaired. Distance runs from the repair to the next failure of the same \
             engine, in whichever cylinder unless cylinders are told apart.",
        ),
        "odometer" => caveat(
            "first-failure",
            "The first failure of each engine counts; later ones are for rates and repeats. Distance is the odometer's \
             reading, so an engine put in later comes under observation there, however new it was.",
        ),
        _ => caveat(
            "first-failure",
            "The first failure of each engine counts; later ones are for rates and repeats. Distance is the engine's own: a \
             replacement engine begins at 0.",
        ),
    }
}

fn sum(life: &Life, take: fn(&GroupLife) -> u64) -> u64 {
    // Every cause and cylinder of a vehicle repeats it: the largest group of each is the least that is true.
    life.groups.iter().map(take).sum()
}

/// Failures and distance that are in no curve.
fn counted_apart(life: &Life) -> Vec<Caveat> {
    let mut out = Vec::new();
    let walk_ins = sum(life, |g| g.walk_ins);
    if walk_ins > 0 {
        out.push(caveat(
            "walk-ins-apart",
            format!(
                "{} of vehicles never seen before: how many like them came so far without failing is unknown. They are in no \
                 curve, and their engines are not at risk of a first failure any more.",
                words::count(walk_ins, "first failure")
            ),
        ));
    }
    let later = sum(life, |g| g.after_last_visit);
    if later > 0 {
        out.push(caveat(
            "after-last-visit",
            format!(
                "{} after the vehicle's last visit without trouble are in no curve: how far it had come is known only because \
                 it failed.",
                words::count(later, "first failure")
            ),
        ));
    }
    let unplaced = sum(life, |g| g.unplaced);
    if unplaced > 0 {
        out.push(caveat(
            "distance-unknown",
            format!(
                "{} at an unknown distance: the engine leaves where the day falls at an even pace, and the failure is in no \
                 curve, so curves read a little too good.",
                words::count(unplaced, "first failure")
            ),
        ));
    }
    let without = sum(life, |g| g.without_distance);
    if without > 0 {
        out.push(caveat(
            "no-distance-at-risk",
            format!(
                "{} at the very distance at which observation began, or off the clock: without distance at risk, counted in \
                 no curve.",
                words::count(without, "failure")
            ),
        ));
    }
    let never = life
        .groups
        .iter()
        .map(|g| g.never_at_risk)
        .max()
        .unwrap_or(0);
    if never > 0 {
        out.push(caveat(
            "seen-once",
            format!(
                "{} seen at one distance only were never at risk and say nothing here.",
                words::count(never, "engine")
            ),
        ));
    }
    let unknown = life
        .groups
        .iter()
        .map(|g| g.unknown_clock_m)
        .max()
        .unwrap_or(0);
    if unknown > 0 {
        out.push(caveat(
            "clock-unknown",
            format!(
                "Up to {} a group were driven at an unknown place on the clock (after an odometer or an engine was changed) \
                 and are left out.",
                words::distance(unknown as f64, life.unit())
            ),
        ));
    }
    out
}

/// Late entry, and curves that begin late.
fn entry(life: &Life) -> Vec<Caveat> {
    let mut out = Vec::new();
    let late = life.groups.iter().filter(|g| g.from_m.unwrap_or(0) > 0);
    let late = late.count();
    if late > 0 {
        out.push(caveat(
            "late-entry",
            format!(
                "In {} nobody, or too few, were watched from 0 on: the curve holds for those that reach its beginning, and \
                 what failed before is unknown.",
                words::count(late as u64, "group")
            ),
        ));
    }
    let lost = life.groups.iter().filter(|g| g.not_identified.is_some());
    for group in lost.take(3) {
        out.push(caveat(
            "not-identified",
            format!(
                "{}: {}.",
                group.key.title(),
                group.not_identified.as_deref().unwrap_or_default()
            ),
        ));
    }
    out
}

/// Shapes that are shared.
fn shared(life: &Life) -> Vec<Caveat> {
    let rows = life.pooled.iter().map(|p| {
        let contradicted = p.p_equal.is_some_and(|p| p < 0.05);
        let test = match p.p_equal {
            Some(p) if contradicted => format!(
                "; groups with enough failures contradict one shape (p = {p:.3}), so take it with care"
            ),
            Some(p) => format!("; nothing contradicts that (p = {p:.2})"),
            None => String::new(),
        };
        caveat(
            "shared-shape",
            format!(
                "Groups with fewer than {FEW} failures borrow the Weibull shape {} of all {} groups together ({}){test}.",
                words::number(p.shape.value),
                p.groups,
                words::count(p.failures, "failure"),
            ),
        )
    });
    rows.take(1).collect()
}
