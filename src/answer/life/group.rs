//! All that is told of one group, from its counts by distance.

use super::asking::Asking;
use super::curve::{self, Curve};
use super::hazard::EveryFailure;
use super::model::{Model, WELL_FILLED, metres};
use super::types::{Drawn, GroupLife, Status};
use super::{ahead, bound, distances, drawn, fits, hazard, incidence, reason};
use crate::answer::parts::Evidence;
use crate::domain::problem::Result;
use crate::tally::life::LifeGroup;

/// Everything about one group.
///
/// # Errors
/// A level outside (0, 1).
pub fn group(
    asking: &Asking<'_>,
    every: Option<&EveryFailure<'_>>,
    group: &LifeGroup,
    model: &Model,
) -> Result<GroupLife> {
    let setting = asking.setting();
    let level = setting.level;
    let mut answer = frame(asking, group, model);
    let Some(curve) = Curve::new(&model.table, asking.start())? else {
        return Ok(answer);
    };
    let band = curve.band(level)?;
    answer.from_m = Some(metres(curve.from));
    answer.not_identified = not_identified(asking, model, &curve);
    answer.curve = curve.steps(band.as_ref(), level)?;
    answer.band = band.as_ref().map(curve::range);
    answer.milestones = curve.milestones(&asking.labels.bands.edges, level)?;
    answer.mean = curve.mean(level)?;
    let (fits, unfitted) = fits::fits(model, level)?;
    if asking.charts {
        answer.drawn = drawn::drawn(model, &curve, &fits);
    }
    answer.shares = distances::all(&curve, model, &fits, setting)?;
    answer.fits = fits::rows(model, &fits, level)?;
    answer.unfitted = unfitted;
    answer.hazard = hazard::bands(model, asking.labels.bands, &group.key, every, setting)?;
    answer.ahead = asking
        .ahead
        .map(|stretch| ahead::ahead(model, &fits, stretch, setting))
        .transpose()?;
    answer.incidence = incidence::causes(group, curve.from, asking.labels, level)?;
    if model.table.failures() < 2 {
        answer.bound = bound::bound(
            &model.reach(),
            &model.observed,
            &asking.shapes,
            None,
            setting,
        )?;
    }
    Ok(answer)
}

/// A group's answer with its evidence and nothing estimated yet.
fn frame(asking: &Asking<'_>, group: &LifeGroup, model: &Model) -> GroupLife {
    let lives = model.table.lives();
    GroupLife {
        key: asking.key(&group.key),
        status: match (lives, group.firsts.failed) {
            (0, _) => Status::NothingObserved,
            (_, 0) => Status::NoFailure,
            (_, 1) => Status::OneFailure,
            _ => Status::Estimated,
        },
        evidence: Evidence {
            events: group.firsts.failed,
            vehicles: group.watched.vehicles,
            exposure_m: Some(group.exposure_m()),
            sites: group.watched.sites,
            first_date: group.watched.first,
            last_date: group.watched.last,
        },
        lives,
        walk_ins: group.firsts.walk_ins,
        after_last_visit: group.firsts.after_last_visit,
        unplaced: group.firsts.unplaced,
        without_distance: group.firsts.without_distance,
        never_at_risk: group.watched.never_at_risk,
        unknown_clock_m: group.watched.unknown_m,
        from_m: None,
        well_filled_to_m: model.well_filled_to().map(metres),
        to_m: model.table.last_exit().map(metres),
        not_identified: None,
        curve: Vec::new(),
        band: None,
        milestones: Vec::new(),
        mean: None,
        shares: Vec::new(),
        fits: Vec::new(),
        unfitted: Vec::new(),
        hazard: Vec::new(),
        ahead: None,
        incidence: Vec::new(),
        bound: None,
        drawn: Drawn::default(),
    }
}

/// Why the curve begins where it does, or where it stops being known.
fn not_identified(asking: &Asking<'_>, model: &Model, curve: &Curve) -> Option<String> {
    let unit = asking.setting().unit;
    let far = |m: f64| crate::answer::words::distance(m, unit);
    let first = model.table.first_entry()?;
    let later = asking.from_m.is_none() && curve.from > first;
    let begins = later.then(|| {
        let early = model.table.failures_between(0.0, curve.from + 0.5);
        format!(
            "fewer than {} were at risk at the {} up to {}, so the curve begins there, given that it is reached",
            WELL_FILLED,
            crate::answer::words::count(early, "failure"),
            far(curve.from)
        )
    });
    let ends = curve
        .kaplan_meier
        .caveat()
        .map(|why| reason::words(&why, unit));
    match (begins, ends) {
        (Some(a), Some(b)) => Some(format!("{a}; {b}")),
        (a, b) => a.or(b),
    }
}
