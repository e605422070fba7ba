//! What a budget needs from the store, gathered.

use std::collections::{BTreeMap, BTreeSet};

use super::place::{self, Period, Placed};
use super::plan::Plan;
use super::roster::RosterPlace;
use crate::answer::budget::compute::bottom_end;
use crate::answer::budget::fleet::Unit;
use crate::answer::budget::jobs;
use crate::answer::budget::model::Family;
use crate::answer::budget::outlook::Money;
use crate::answer::budget::types::{BadRow, BudgetQuestion};
use crate::answer::budget::{Budget, Input, answer};
use crate::answer::parts::Evidence;
use crate::cli::question::Asked;
use crate::domain::currency;
use crate::domain::day::Day;
use crate::domain::distance::UnitSystem;
use crate::domain::problem::{Problem, Result};
use crate::ingest::mapping::code_list::Names;
use crate::ingest::roster::{self, Roster, RosterUnit};
use crate::ingest::translate::Naming;
use crate::tally::budget::{self as tally, BudgetAsk, FamilyLives, Known, Line};

/// Reads a roster through its mapping.
///
/// # Errors
/// Those of the mapping and the file, and a missing key.
pub fn roster(asked: &Asked, place: &RosterPlace, plan: &Plan) -> Result<Roster> {
    let names = Names {
        catalog: &asked.catalog,
        families: &asked.families,
    };
    let batches = asked.store.batches()?;
    let sources: BTreeSet<String> = batches.into_iter().map(|b| b.header.source).collect();
    let sources: Vec<String> = sources.into_iter().collect();
    let mapping = roster::mapping_for(
        place.file,
        place.mapping,
        place.source,
        &sources,
        plan.units.distance(),
        &names,
    )?;
    let naming = if asked.store.keeps_vin() {
        Naming::AsWritten
    } else {
        let key = asked.store.vehicle_key()?;
        Naming::Keyed(Box::new(key.ok_or_else(|| asked.store.missing_key())?))
    };
    let roster = roster::read(place.file, &mapping, names, naming)?;
    if roster.read == 0 {
        return Err(Problem::data("the roster has no row")
            .file(place.file)
            .remedy("list one unit a row: unit, engine family, odometer, planned distance"));
    }
    Ok(roster)
}

/// What the records tell by a day, whatever the fleet.
pub(super) struct Records {
    pub(super) question: BudgetQuestion,
    lives: BTreeMap<String, FamilyLives>,
    lines: Vec<Line>,
    pub(super) ask: BudgetAsk,
}

/// Asks the store for them.
///
/// # Errors
/// Those of the statements, and a store without any record.
pub(super) fn records(asked: &mut Asked, plan: &Plan, known_to: Option<Day>) -> Result<Records> {
    let history = asked.history(asked.options)?;
    let last = history.cut_off().ok_or_else(|| {
        Problem::data("the store has no record to budget from")
            .file(asked.store.path())
            .remedy("ingest some exports first")
    })?;
    let known_to = known_to.unwrap_or(last).min(last);
    let mut question = plan.question(asked, known_to)?;
    let ask = BudgetAsk {
        causes: plan.causes.clone(),
        confirmation: asked.options.confirmation,
        last_day: known_to,
    };
    let lives = tally::lives::tally(&mut asked.engine, &history, &ask, &asked.families)?;
    let lines = tally::jobs::tally(&mut asked.engine, &ask)?;
    // The currency of the budget decides its minor unit, which every stated price is brought to.
    question.currency = jobs::jobs(&lines, &plan.prices(&question, 1.0)).currency;
    question.minor_digits = question.currency.as_deref().map_or(2, currency::exponent);
    Ok(Records {
        question,
        lives,
        lines,
        ask,
    })
}

/// Records and units as what a budget is made from.
///
/// # Errors
/// Those of the statements.
pub(super) fn input(
    asked: &mut Asked,
    plan: &Plan,
    records: Records,
    units: Vec<Placed>,
    bad_rows: Vec<BadRow>,
) -> Result<Input> {
    let Records {
        question,
        lives,
        lines,
        ask,
    } = records;
    let minor = Money::new(question.minor_digits).minor;
    let jobs = jobs::jobs(&lines, &plan.prices(&question, minor));
    let stretches = tally::repeats::tally(&mut asked.engine, &ask)?;
    let evidence = evidence(&lives);
    let bottom = bottom_end(&jobs, |cause| {
        let cause = asked.catalog.cause(cause);
        cause.is_some_and(|cause| cause.system == "bottom_end")
    });
    let (families, units) = families(asked, lives, units);
    Ok(Input {
        stated: plan.stated(bottom, minor),
        question,
        units,
        families,
        stretches,
        jobs,
        bad_rows,
        evidence,
        distance: plan.units.distance(),
    })
}

/// All families that have lives or units, and the units with their family's place among them.
fn families(
    asked: &Asked,
    mut lives: BTreeMap<String, FamilyLives>,
    units: Vec<Placed>,
) -> (Vec<Family>, Vec<Unit>) {
    for (family, _) in &units {
        lives.entry(family.clone()).or_default();
    }
    let title = |id: &str| {
        let family = asked.families.get(id);
        family.map_or_else(|| id.to_string(), |f| f.title.clone())
    };
    let families: Vec<Family> = lives
        .into_iter()
        .map(|(id, lives)| Family {
            title: title(&id),
            id,
            lives,
        })
        .collect();
    let place = |id: &str| {
        families
            .binary_search_by(|f| f.id.as_str().cmp(id))
            .unwrap_or(0)
    };
    let units = units
        .into_iter()
        .map(|(family, unit)| Unit {
            family: place(&family),
            ..unit
        })
        .collect();
    (families, units)
}

fn evidence(lives: &BTreeMap<String, FamilyLives>) -> Evidence {
    let days = || lives.values().filter_map(|l| l.days);
    Evidence {
        events: lives.values().map(|l| l.table.failures()).sum(),
        vehicles: lives.values().map(|l| l.vehicles).sum(),
        exposure_m: Some(lives.values().map(|l| l.exposure_m).sum()),
        sites: lives.values().map(|l| l.sites).max().unwrap_or(0),
        first_date: days().map(|(first, _)| first).min(),
        last_date: days().map(|(_, last)| last).max(),
    }
}

/// The budget of a roster.
///
/// # Errors
/// No record, no life, or a roster without any row that can be used.
pub fn budget(asked: &mut Asked, plan: &Plan, roster: Roster) -> Result<Budget> {
    let records = records(asked, plan, None)?;
    let question = &records.question;
    let until = question.from.plus_months(plan.months).ok_or_else(|| {
        Problem::usage("the period leaves the calendar")
            .field("--months")
            .value(plan.months.to_string())
    })?;
    let period = Period {
        from: question.from,
        days: i64::from(until.0) - i64::from(question.from.0),
        months: (question.months, question.plan_months),
        distance: plan.units.distance(),
    };
    let vehicles: Vec<Option<String>> = roster
        .units
        .iter()
        .map(|u| Some(u.vehicle.clone()))
        .collect();
    let known = tally::units::tally(&mut asked.engine, &records.ask, &vehicles)?;
    let (units, mut bad) = placed(&roster.units, &known, period);
    bad.extend(roster.bad.into_iter().map(place::unread));
    bad.sort_by_key(|row| row.line);
    let input = input(asked, plan, records, units, bad)?;
    answer(input)
}

fn placed(units: &[RosterUnit], known: &[Known], period: Period) -> (Vec<Placed>, Vec<BadRow>) {
    let by_place: BTreeMap<usize, &Known> = known.iter().map(|k| (k.place, k)).collect();
    let (mut good, mut bad) = (Vec::new(), Vec::new());
    for (i, unit) in units.iter().enumerate() {
        match place::place(unit, by_place.get(&i).copied(), period) {
            Ok(placed) => good.push(placed),
            Err(row) => bad.push(*row),
        }
    }
    (good, bad)
}

/// The budget of a report's page: head repairs of a fleet over the next twelve months, with fewer draws, since a page takes its time.
///
/// # Errors
/// As [`roster`] and [`budget`].
pub fn for_report(asked: &mut Asked, place: &RosterPlace<'_>, units: UnitSystem) -> Result<Budget> {
    let plan = Plan {
        draws: PAGE_DRAWS,
        ..Plan::usual(&asked.catalog, units)
    };
    let roster = roster(asked, place, &plan)?;
    budget(asked, &plan, roster)
}

/// Draws for a page.
const PAGE_DRAWS: usize = 300;
