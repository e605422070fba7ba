//! Reads a roster row by row; every row becomes a unit or a message.

use std::collections::BTreeMap;
use std::path::Path;

use super::types::{BadRow, Roster, RosterUnit};
use crate::domain::day::Day;
use crate::domain::family::Families;
use crate::domain::problem::Result;
use crate::ingest::mapping::bind::Plan;
use crate::ingest::mapping::code_list::Names;
use crate::ingest::mapping::{Field, Mapping};
use crate::ingest::read::{self, Damage, RawRecord, ReadOutcome};
use crate::ingest::rule::Flag;
use crate::ingest::translate::{Failure, Fate, Naming, Row, Settings, Translator, Value};

/// Reads the roster.
///
/// # Errors
/// The file cannot be read, or lacks a column of the mapping. A row that cannot be used is no error; it is told in
/// [`Roster::bad`].
pub fn read(file: &Path, mapping: &Mapping, names: Names, naming: Naming) -> Result<Roster> {
    let mut reader = read::open(file, &mapping.format)?;
    let plan = Plan::bind(mapping, reader.as_mut(), file)?;
    let mut translator = Translator::new(Settings {
        mapping,
        plan: &plan,
        names,
        naming,
        // A roster has no days.
        last_day: Day(i32::MAX),
    });
    let columns = Columns::of(&plan);
    let mut roster = Roster::default();
    let mut lines: BTreeMap<String, u64> = BTreeMap::new();
    let mut record = RawRecord::new();
    loop {
        match reader.read(&mut record)? {
            ReadOutcome::End => break,
            ReadOutcome::Damaged(damage) => {
                roster.read += 1;
                roster.bad.push(damaged(&damage));
            }
            ReadOutcome::Record => {
                roster.read += 1;
                if translator.translate(&record) != Fate::Rows {
                    continue;
                }
                for row in translator.rows() {
                    match unit(&record, row, &columns, &lines, names.families) {
                        Ok(unit) => {
                            lines.insert(unit.vehicle.clone(), unit.line);
                            roster.units.push(unit);
                        }
                        Err(bad) => roster.bad.push(*bad),
                    }
                }
            }
        }
    }
    Ok(roster)
}

/// Columns that messages quote.
struct Columns {
    vehicle: Option<usize>,
    engine: Option<usize>,
}

impl Columns {
    fn of(plan: &Plan) -> Self {
        let column = |field| {
            let table = plan.tables.first()?;
            table.field(field)?.column
        };
        Self {
            vehicle: column(Field::Vehicle),
            engine: column(Field::EngineFamily).or_else(|| column(Field::Engine)),
        }
    }
}

fn unit(
    record: &RawRecord,
    row: &Row,
    columns: &Columns,
    lines: &BTreeMap<String, u64>,
    families: &Families,
) -> std::result::Result<RosterUnit, Box<BadRow>> {
    let text = |column: Option<usize>| column.map_or("", |c| record.get(c)).trim().to_owned();
    let line = record.line();
    let label = text(columns.vehicle);
    let bad = |field: &str, value: String, problem: &str, remedy: String| {
        Box::new(BadRow {
            line,
            unit: label.clone(),
            field: field.to_owned(),
            value,
            problem: problem.to_owned(),
            remedy,
        })
    };
    if let Some(failure) = row.failures.first() {
        if failure.field == Field::EngineFamily.name() {
            return Err(bad(
                failure.field,
                failure.value.clone(),
                "There is no such engine family, so there is no life to judge the unit by.",
                known(&failure.value, families),
            ));
        }
        let remedy = remedy(failure);
        let meaning = failure.rejection.reason.meaning();
        return Err(bad(failure.field, failure.value.clone(), meaning, remedy));
    }
    let vehicle = row.text(row.value("vehicle")).to_owned();
    if let Some(first) = lines.get(&vehicle) {
        let problem = format!("The unit is in the roster already, at line {first}.");
        return Err(bad(
            "vehicle",
            label.clone(),
            &problem,
            "keep one of the two rows".to_owned(),
        ));
    }
    let family = row.text(row.value("engine_family"));
    if family.is_empty()
        && row
            .flags()
            .any(|f| matches!(f, Flag::EngineUnknown | Flag::EngineAmbiguous))
    {
        return Err(bad(
            "engine",
            text(columns.engine),
            "The engine is of no known family, so there is no life to judge it by.",
            "correct it, add the text to families.toml, or give the model year that tells which family it is".to_owned(),
        ));
    }
    let whole = |column| match row.value(column) {
        Value::Whole(metres) => Some(metres),
        _ => None,
    };
    Ok(RosterUnit {
        line,
        family: (!family.is_empty()).then(|| family.to_owned()),
        odometer_m: whole("odometer_m"),
        planned_m: whole("planned_m"),
        label,
        vehicle,
    })
}

/// The family that may be meant, or all there are.
fn known(id: &str, families: &Families) -> String {
    match families.did_you_mean(id) {
        Some(near) => format!("did you mean {near}?"),
        None => format!(
            "known families: {}",
            families.ids().collect::<Vec<_>>().join(", ")
        ),
    }
}

fn remedy(failure: &Failure) -> String {
    let way_out = failure.rejection.reason.way_out();
    match &failure.rejection.hint {
        Some(hint) => format!("{hint}; {way_out}"),
        None => way_out.to_owned(),
    }
}

fn damaged(damage: &Damage) -> BadRow {
    BadRow {
        line: damage.line,
        unit: String::new(),
        field: String::new(),
        value: damage.raw.chars().take(80).collect(),
        problem: damage.detail.clone(),
        remedy: damage.reason.remedy().to_owned(),
    }
}
