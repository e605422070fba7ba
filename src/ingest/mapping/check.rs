//! What a mapping must fulfil as a whole: code lists that are used, constants that mean something, required fields that
//! come from somewhere.

use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::domain::table::Table;
use crate::domain::unit::Unit;
use crate::ingest::cell::text::normal_form;

use super::code_list::Names;
use super::field::{Field, Words};
use super::file::{Mapping, TableMapping};
use super::mistake::InMapping;
use super::raw::RawMapping;
use super::source::UnitSource;

/// Patterns that can match something.
pub(super) fn globs(files: &[String], at: InMapping) -> Result<()> {
    if files.is_empty() {
        return Err(at
            .mistake("files", "the mapping is for no file")
            .remedy("write files = [\"*.csv\"], relative to the mapping file"));
    }
    for pattern in files {
        glob::Pattern::new(pattern).map_err(|e| {
            at.mistake("files", format!("not a file pattern: {e}"))
                .value(pattern)
                .remedy("`*` stands for a part of a name, `**` for any folders, [ab] for one of these signs")
        })?;
    }
    Ok(())
}

/// A roster is no export: nothing of it may reach a batch.
pub(super) fn roster_alone(tables: &[TableMapping], at: InMapping) -> Result<()> {
    let is_roster = |t: &TableMapping| t.into == Table::Roster;
    if tables.len() < 2 || !tables.iter().any(is_roster) {
        return Ok(());
    }
    Err(at
        .mistake("table", "a roster is the only table its mapping can fill")
        .remedy("keep the roster and the exports in mapping files of their own"))
}

/// A list that no field uses is a misspelt name.
pub(super) fn codes_are_used(
    raw: &RawMapping,
    tables: &[TableMapping],
    at: InMapping,
) -> Result<()> {
    for name in raw.codes.keys() {
        let stated = tables
            .iter()
            .flat_map(|t| &t.fields)
            .any(|(_, s)| s.codes.as_deref() == Some(name));
        let own = Field::from_name(name).is_some_and(|f| f.words() != Words::None);
        if !stated && !own && !matches!(name.as_str(), "unit" | "distance_unit") {
            let known = Field::ALL
                .iter()
                .filter(|f| f.words() != Words::None)
                .map(|f| f.name())
                .chain(["unit", "distance_unit"]);
            return Err(at.unknown(
                &format!("codes.{name}"),
                "field with code words",
                name,
                known,
            ));
        }
    }
    Ok(())
}

/// Constants of coded fields must mean something, as every word of an export must.
pub(super) fn constants(table: &TableMapping, names: &Names, at: InMapping) -> Result<()> {
    let mapped = table
        .fields
        .iter()
        .filter_map(|(f, s)| s.value.as_ref().map(|v| (*f, v, "columns")));
    let defaults = table.defaults.iter().map(|(f, v)| (*f, v, "defaults"));
    for (field, value, place) in mapped.chain(defaults) {
        let listed = table
            .codes
            .iter()
            .any(|(f, list)| *f == field && list.get(value).is_some());
        if !listed && names.resolve(field, value).is_none() {
            let mut mistake = at
                .mistake(
                    &format!("{}: {place}.{}", table.key, field.name()),
                    "not a value the field can have",
                )
                .value(value);
            if let Some(near) = names.did_you_mean(field, value) {
                mistake = mistake.remedy(format!("did you mean {near:?}?"));
            }
            return Err(mistake);
        }
    }
    Ok(())
}

/// A field that the table cannot do without must come from somewhere.
pub(super) fn required(table: &TableMapping, at: InMapping) -> Result<()> {
    let given = |field: Field| {
        table.fields.iter().any(|(f, _)| *f == field)
            || table.defaults.iter().any(|(f, _)| *f == field)
    };
    for column in table.into.own_columns().iter().filter(|c| c.required) {
        let Some(field) = Field::from_name(column.name) else {
            continue;
        };
        if !given(field) {
            return Err(at
                .mistake(
                    &format!("{}.columns", table.key),
                    format!(
                        "{} is not mapped, and {} cannot do without it",
                        field.name(),
                        table.into.name()
                    ),
                )
                .remedy(format!(
                    "map {} to a column, or give a constant under [defaults]",
                    field.name()
                )));
        }
    }
    if given(Field::Cost) && !given(Field::Currency) {
        return Err(at
            .mistake(
                &format!("{}.columns.cost", table.key),
                "a cost without a currency cannot be added up",
            )
            .remedy("map currency to a column, or write currency = \"EUR\" under [defaults]"));
    }
    Ok(())
}

/// A unit that is stated for a field must be one there is, or a word of `[codes.unit]` or `[codes.distance_unit]`.
pub(super) fn units(mapping: &Mapping) -> Result<()> {
    for table in &mapping.tables {
        for (field, source) in &table.fields {
            let UnitSource::Fixed(word) = &source.unit else {
                continue;
            };
            let form = normal_form(word);
            let known = match field {
                Field::Odometer | Field::PlannedDistance => {
                    mapping.distance_units.contains_key(&form)
                        || DistanceUnit::parse(word).is_some()
                }
                _ => mapping.units.contains_key(&form) || Unit::parse(word).is_some(),
            };
            if !known {
                return Err(mapping
                    .at()
                    .mistake(
                        &format!("{}.columns.{}.unit", table.key, field.name()),
                        "not a unit there is",
                    )
                    .value(word)
                    .remedy(UNITS));
            }
        }
    }
    Ok(())
}

/// The units there are, for messages.
pub(super) const UNITS: &str =
    "units are km, mi; kPa, psi, bar, kgf/cm2, ohm, kohm, kV, V, ms, us, mm, in, percent, min, h";
