//! Causes, tests and repairs of a catalog file, each checked against what it names.

use toml::Spanned;

use super::check::{Source, names_of};
use super::entry::{Block, Cause, Repair, SetUp, Test};
use super::form::{CauseForm, RepairForm, SetUpForm, TestForm};
use super::name::{Kind, Names};
use crate::domain::caution;
use crate::domain::problem::Result;
use crate::domain::unit::Unit;

pub(super) fn causes(
    s: &Source,
    names: &mut Names,
    forms: Vec<Spanned<CauseForm>>,
) -> Result<Vec<Cause>> {
    let mut causes = Vec::with_capacity(forms.len());
    for at in forms {
        let f = at.as_ref();
        names_of(s, names, Kind::Cause, &at, (&f.id, &f.title, &f.aliases))?;
        if !(f.share > 0.0 && f.share <= 100.0) {
            let what = format!("the share of {:?} must be above 0 percent", f.id);
            return Err(s.fault_at(&at, "cause.share", f.share, what));
        }
        let f = at.into_inner();
        causes.push(Cause {
            id: f.id,
            title: f.title,
            system: f.system,
            modes: f.modes,
            share_percent: f.share,
            head_off: f.head_off,
            note: f.note,
            aliases: f.aliases,
        });
    }
    let sum: f64 = causes.iter().map(|c| c.share_percent).sum();
    match (sum - 100.0).abs() < 1e-6 {
        true => Ok(causes),
        false => Err(s.fault(
            "cause.share",
            sum,
            "the shares of all causes must sum to 100",
        )),
    }
}

/// Easy and hard minutes: finite, not negative, hard at least as long as easy.
fn minutes_fit(minutes: [f64; 2]) -> bool {
    let [easy, hard] = minutes;
    easy.is_finite() && hard.is_finite() && easy >= 0.0 && hard >= easy
}

fn set_up(s: &Source, at: &Spanned<SetUpForm>) -> Result<SetUp> {
    let f = at.as_ref();
    if !minutes_fit(f.minutes) {
        let what = format!(
            "the minutes of {:?} must be [easy, hard], hard not below easy",
            f.id
        );
        return Err(s.fault_at(at, "set_up.minutes", format!("{:?}", f.minutes), what));
    }
    let [minutes_easy, minutes_hard] = f.minutes;
    Ok(SetUp {
        id: f.id.clone(),
        title: f.title.clone(),
        minutes_easy,
        minutes_hard,
    })
}

pub(super) fn set_ups(s: &Source, forms: &[Spanned<SetUpForm>]) -> Result<Vec<SetUp>> {
    forms.iter().map(|form| set_up(s, form)).collect()
}

pub(super) fn tests(
    s: &Source,
    names: &mut Names,
    set_ups: &[SetUp],
    blocks: &[Block],
    forms: Vec<Spanned<TestForm>>,
) -> Result<Vec<Test>> {
    let mut tests = Vec::with_capacity(forms.len());
    for at in forms {
        let f = at.as_ref();
        names_of(s, names, Kind::Test, &at, (&f.id, &f.title, &f.aliases))?;
        if let Some(code) = &f.code {
            names.add(Kind::Test, code, &f.id).map_err(|other| {
                s.fault_at(
                    &at,
                    "test.code",
                    code,
                    format!("this code already means {other:?}"),
                )
            })?;
        }
        if let Some(id) = f
            .set_ups
            .iter()
            .find(|id| set_ups.iter().all(|u| u.id != **id))
        {
            return Err(s.fault_at(&at, "test.set_ups", id, "there is no such set-up"));
        }
        if let Some(id) = &f.block
            && blocks.iter().all(|b| b.id != *id)
        {
            return Err(s.fault_at(&at, "test.block", id, "there is no such block"));
        }
        if let Some(id) = f
            .shows
            .iter()
            .find(|id| names.resolve(Kind::Cause, id) != Some(id))
        {
            return Err(s.fault_at(&at, "test.shows", id, "there is no such cause"));
        }
        if let Some(id) = f
            .hazards
            .iter()
            .find(|id| caution::hazard_by_id(id).is_none())
        {
            return Err(s.fault_at(&at, "test.hazards", id, "there is no such hazard"));
        }
        tests.push(test(s, &at, set_ups)?);
    }
    Ok(tests)
}

fn test(s: &Source, at: &Spanned<TestForm>, set_ups: &[SetUp]) -> Result<Test> {
    let f = at.as_ref();
    let mut units = Vec::with_capacity(f.units.len());
    for text in &f.units {
        let unit = Unit::parse(text)
            .ok_or_else(|| s.fault_at(at, "test.units", text, "there is no such unit"))?;
        // Readings are stored in canonical units only.
        units.push(unit.canonical());
    }
    let [minutes_easy, minutes_hard] = f.minutes;
    let mine = || set_ups.iter().filter(|u| f.set_ups.contains(&u.id));
    let set_up_easy: f64 = mine().map(|u| u.minutes_easy).sum();
    let set_up_hard: f64 = mine().map(|u| u.minutes_hard).sum();
    if !minutes_fit(f.minutes) || minutes_easy < set_up_easy || minutes_hard < set_up_hard {
        let what = format!(
            "the minutes of {:?} must be [easy, hard], hard not below easy, and not below its set-ups ({set_up_easy} and {set_up_hard})",
            f.id
        );
        return Err(s.fault_at(at, "test.minutes", format!("{:?}", f.minutes), what));
    }
    Ok(Test {
        id: f.id.clone(),
        code: f.code.clone(),
        title: f.title.clone(),
        scope: f.scope,
        units,
        faulty: f.faulty,
        shows: f.shows.clone(),
        minutes_easy,
        minutes_hard,
        set_ups: f.set_ups.clone(),
        block: f.block.clone(),
        proof: f.proof,
        invasive: f.invasive.clone(),
        hazards: f.hazards.clone(),
        separates: f.separates.clone(),
        abnormal: f.abnormal.clone(),
        criterion: f.criterion.clone(),
        needs: f.needs.clone(),
        aliases: f.aliases.clone(),
    })
}

pub(super) fn repairs(
    s: &Source,
    names: &mut Names,
    forms: Vec<Spanned<RepairForm>>,
) -> Result<Vec<Repair>> {
    let mut repairs = Vec::with_capacity(forms.len());
    for at in forms {
        let f = at.as_ref();
        names_of(s, names, Kind::Repair, &at, (&f.id, &f.title, &f.aliases))?;
        if !minutes_fit(f.hours) {
            let what = format!(
                "the hours of {:?} must be [from, to], to not below from",
                f.id
            );
            return Err(s.fault_at(&at, "repair.hours", format!("{:?}", f.hours), what));
        }
        if let Some(id) = f
            .cures
            .iter()
            .find(|id| names.resolve(Kind::Cause, id) != Some(id))
        {
            return Err(s.fault_at(&at, "repair.for", id, "there is no such cause"));
        }
        if !(f.parts_minutes.is_finite() && f.parts_minutes >= 0.0) {
            let what = "the price of parts must be finite and not negative";
            return Err(s.fault_at(&at, "repair.parts_minutes", f.parts_minutes, what));
        }
        let f = at.into_inner();
        let [hours_from, hours_to] = f.hours;
        repairs.push(Repair {
            id: f.id,
            title: f.title,
            cures: f.cures,
            hours_from,
            hours_to,
            parts_minutes: f.parts_minutes,
            head_off: f.head_off,
            note: f.note,
            aliases: f.aliases,
        });
    }
    Ok(repairs)
}
