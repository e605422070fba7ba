//! A checked mapping: what is wrong is told when the file is loaded, so that nothing later can fail for it.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::domain::distance::DistanceUnit;
use crate::domain::problem::{AtFile, Result};
use crate::domain::table::Table;
use crate::domain::unit::Unit;
use crate::ingest::cell::number::NumberFormat;
use crate::ingest::cell::text::{self, normal_form};
use crate::ingest::read::Format;

use super::check;
use super::code_list::{CodeList, Names};
use super::condition::{Condition, Exclusion, conditions, exclusions};
use super::export_date::ExportDate;
use super::field::{Field, Words};
use super::mistake::InMapping;
use super::raw::{RawMapping, RawTable, constant};
use super::source::{FieldSource, UnitSource};

/// A checked mapping file.
#[derive(Debug, Clone)]
pub struct Mapping {
    /// Where it lies.
    pub file: PathBuf,
    /// Its text, which decides with the export's content whether a batch is already there.
    pub text: String,
    /// System the exports come from.
    pub source: String,
    /// Globs relative to the mapping's folder.
    pub files: Vec<String>,
    /// How the exports are written.
    pub format: Format,
    /// Marks of numbers.
    pub numbers: NumberFormat,
    /// Where the day of the export comes from.
    pub export_date: ExportDate,
    /// Records to leave out.
    pub exclude: Vec<Exclusion>,
    /// What the export feeds.
    pub tables: Vec<TableMapping>,
    /// Words for units of readings.
    pub units: BTreeMap<String, Unit>,
    /// Words for units of distance.
    pub distance_units: BTreeMap<String, DistanceUnit>,
    /// Unit of odometers without one of their own.
    pub distance_unit: Option<DistanceUnit>,
}

/// One `[[table]]`.
#[derive(Debug, Clone)]
pub struct TableMapping {
    /// Its key in messages: "table 2 (cases)".
    pub key: String,
    /// Table it feeds.
    pub into: Table,
    /// 1 for the first entry that feeds this table, 2 for the second.
    pub ordinal: usize,
    /// All must hold.
    pub when: Vec<Condition>,
    /// Columns of the record's key; empty = the natural key of the table.
    pub record: Vec<String>,
    /// Fields and where their values come from.
    pub fields: Vec<(Field, FieldSource)>,
    /// Constants for fields that are not mapped or empty.
    pub defaults: Vec<(Field, String)>,
    /// Code lists by field.
    pub codes: Vec<(Field, CodeList)>,
}

impl Mapping {
    /// Reads and checks a mapping file.
    ///
    /// # Errors
    /// Whatever is wrong in it, with file, key, value and the way out.
    pub fn load(file: &Path, names: &Names) -> Result<Self> {
        let text = std::fs::read_to_string(file).at_file("read the mapping", file)?;
        Self::from_text(&text, file, names)
    }

    /// Checks the text of a mapping; `file` is named in messages and gives the folder its globs are relative to.
    pub fn from_text(text: &str, file: &Path, names: &Names) -> Result<Self> {
        let at = InMapping(file);
        let raw = RawMapping::from_text(text.trim_start_matches('\u{feff}'), file)?;
        if text::trim(&raw.source).is_empty() {
            return Err(at.mistake("source", "the source has no name").remedy(
                "name the system the export comes from; record keys are unique within it",
            ));
        }
        check::globs(&raw.files, at)?;
        if raw.table.is_empty() {
            return Err(at.mistake("table", "the mapping fills no table").remedy(
                "add a [[table]] with into = \"visits\", \"cases\", \"findings\" or \"tests\" (or \"roster\" for a budget)",
            ));
        }
        let defaults = Defaults::read(&raw.defaults, at)?;
        let mut tables: Vec<TableMapping> = Vec::new();
        for (i, raw_table) in raw.table.iter().enumerate() {
            let table = table_mapping(i, raw_table, &raw.codes, &defaults, &tables, names, at)?;
            tables.push(table);
        }
        check::roster_alone(&tables, at)?;
        check::codes_are_used(&raw, &tables, at)?;
        let mapping = Self {
            file: file.to_path_buf(),
            text: text.to_owned(),
            numbers: NumberFormat {
                decimal: raw.format.decimal,
                thousands: raw.format.thousands,
            },
            export_date: ExportDate::read(raw.export_date.as_ref(), at)?,
            exclude: exclusions(&raw.exclude, at)?,
            units: unit_words(&raw, "unit", at, Unit::parse)?,
            distance_units: unit_words(&raw, "distance_unit", at, DistanceUnit::parse)?,
            distance_unit: defaults.distance_unit,
            source: raw.source,
            files: raw.files,
            format: raw.format,
            tables,
        };
        check::units(&mapping)?;
        Ok(mapping)
    }

    /// Whether it is for a roster, which a question brings along, and not for exports.
    pub fn is_roster(&self) -> bool {
        self.tables.iter().any(|table| table.into == Table::Roster)
    }

    /// Where mistakes that show only with an export at hand are placed.
    pub fn at(&self) -> InMapping<'_> {
        InMapping(&self.file)
    }
}

/// `[defaults]`.
struct Defaults {
    fields: Vec<(Field, String)>,
    distance_unit: Option<DistanceUnit>,
}

impl Defaults {
    fn read(raw: &BTreeMap<String, toml::Value>, at: InMapping) -> Result<Self> {
        let mut defaults = Self {
            fields: Vec::new(),
            distance_unit: None,
        };
        for (name, value) in raw {
            let key = format!("defaults.{name}");
            let text = constant(value).ok_or_else(|| {
                at.mistake(&key, "a default is one constant")
                    .value(value.to_string())
            })?;
            if name == "distance_unit" {
                let unit = DistanceUnit::parse(&text)
                    .ok_or_else(|| at.unknown(&key, "unit of distance", &text, ["km", "mi"]))?;
                defaults.distance_unit = Some(unit);
                continue;
            }
            let field = Field::from_name(name).ok_or_else(|| {
                let known = Field::ALL.iter().map(|f| f.name()).chain(["distance_unit"]);
                at.unknown(&key, "field", name, known)
            })?;
            defaults.fields.push((field, text));
        }
        Ok(defaults)
    }
}

fn table_mapping(
    index: usize,
    raw: &RawTable,
    codes: &BTreeMap<String, BTreeMap<String, toml::Value>>,
    defaults: &Defaults,
    earlier: &[TableMapping],
    names: &Names,
    at: InMapping,
) -> Result<TableMapping> {
    let key = format!("table {} ({})", index + 1, raw.into);
    let into = Table::from_name(&raw.into)
        .filter(|t| *t != Table::Quarantine)
        .ok_or_else(|| {
            let known = Table::ALL
                .iter()
                .map(|t| t.name())
                .filter(|n| *n != "quarantine");
            at.unknown(&format!("{key}.into"), "table", &raw.into, known)
        })?;
    let allowed = Field::of(into);
    let (record, mut fields) = columns(raw, &key, allowed, at)?;
    let defaults: Vec<(Field, String)> = defaults
        .fields
        .iter()
        .filter(|(f, _)| allowed.contains(f))
        .cloned()
        .collect();
    fields.sort_by_key(|(f, _)| *f);
    let table = TableMapping {
        ordinal: 1 + earlier.iter().filter(|t| t.into == into).count(),
        when: conditions(raw.when.as_ref(), &format!("{key}.when"), at)?,
        codes: code_lists(&fields, allowed, codes, names, &key, at)?,
        key,
        into,
        record,
        fields,
        defaults,
    };
    check::constants(&table, names, at)?;
    check::required(&table, at)?;
    Ok(table)
}

type Columns = (Vec<String>, Vec<(Field, FieldSource)>);

fn columns(raw: &RawTable, key: &str, allowed: &[Field], at: InMapping) -> Result<Columns> {
    let mut record = Vec::new();
    let mut fields: Vec<(Field, FieldSource)> = Vec::new();
    let mut reading_unit = None;
    for (name, value) in &raw.columns {
        let key = format!("{key}.columns.{name}");
        if name == "record" {
            record = texts(value, &key, "a column or a list of columns", at)?;
            continue;
        }
        if name == "unit" && allowed.contains(&Field::Reading) {
            reading_unit = Some(texts(value, &key, "a column", at)?.concat());
            continue;
        }
        let field = Field::from_name(name)
            .filter(|f| allowed.contains(f))
            .ok_or_else(|| {
                let known = allowed.iter().map(|f| f.name()).chain(["record"]);
                at.unknown(&key, "field in this table", name, known)
            })?;
        fields.push((field, FieldSource::read(field, value, &key, at)?));
    }
    if let Some(column) = reading_unit {
        match fields.iter_mut().find(|(f, _)| *f == Field::Reading) {
            Some((_, source)) if source.unit == UnitSource::None => {
                source.unit = UnitSource::Column(column)
            }
            _ => {
                return Err(at
                    .mistake(
                        &format!("{key}.columns.unit"),
                        "there is no reading that lacks a unit",
                    )
                    .remedy("write reading = { column = \"...\", unit_column = \"...\" }"));
            }
        }
    }
    Ok((record, fields))
}

fn texts(value: &toml::Value, key: &str, expected: &str, at: InMapping) -> Result<Vec<String>> {
    let one = |v: &toml::Value| v.as_str().map(str::to_owned);
    let list = match value {
        toml::Value::Array(list) => list.iter().map(one).collect::<Option<Vec<_>>>(),
        other => one(other).map(|t| vec![t]),
    };
    list.filter(|l| !l.is_empty()).ok_or_else(|| {
        at.mistake(key, format!("should be {expected}, in quotes"))
            .value(value.to_string())
    })
}

fn code_lists(
    fields: &[(Field, FieldSource)],
    allowed: &[Field],
    codes: &BTreeMap<String, BTreeMap<String, toml::Value>>,
    names: &Names,
    key: &str,
    at: InMapping,
) -> Result<Vec<(Field, CodeList)>> {
    let mut lists = Vec::new();
    for field in allowed.iter().copied().filter(|f| f.words() != Words::None) {
        let stated = fields
            .iter()
            .find(|(f, _)| *f == field)
            .and_then(|(_, s)| s.codes.as_deref());
        if let Some(name) = stated
            && !codes.contains_key(name)
        {
            let known = codes.keys().map(String::as_str);
            let key = format!("{key}.columns.{}.codes", field.name());
            return Err(at.unknown(&key, "code list [codes.…]", name, known));
        }
        let own = stated.unwrap_or(field.name());
        let shared =
            (field == Field::ComplaintCylinder && !codes.contains_key(own)).then_some("cylinder");
        let name = shared.unwrap_or(own);
        if let Some(raw) = codes.get(name) {
            lists.push((field, CodeList::read(name, raw, field, names, at)?));
        }
    }
    Ok(lists)
}

fn unit_words<U>(
    raw: &RawMapping,
    name: &str,
    at: InMapping,
    parse: impl Fn(&str) -> Option<U>,
) -> Result<BTreeMap<String, U>> {
    let Some(list) = raw.codes.get(name) else {
        return Ok(BTreeMap::new());
    };
    list.iter()
        .map(|(word, value)| {
            let unit = constant(value).unwrap_or_default();
            let unit = parse(&unit).ok_or_else(|| {
                at.mistake(&format!("codes.{name}.{word:?}"), "not a unit there is")
                    .value(unit)
                    .remedy(check::UNITS)
            })?;
            Ok((normal_form(word), unit))
        })
        .collect()
}
