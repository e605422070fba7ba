//! A checked mapping: what is wrong is told when the file is loaded, so that nothing later can fail for it.

use std::collections::{BTreeMap, HashSet};
use std::path::{Path, PathBuf};

use crate::domain::distance::DistanceUnit;
use crate::domain::problem::{AtFile, Result};
use crate::domain::table::Table;
use crate::domain::unit::Unit;
use crate::ingest::cell::number::NumberFormat;
use crate::ingest::cell::text::{self, normal_form};
use crate::ingest::read::Format;

use super::code_list::{CodeList, Names};
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

/// Records whose column holds one of these words are left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exclusion {
    /// Column of the export.
    pub column: String,
    /// Normal forms of the words.
    pub words: HashSet<String>,
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

/// A condition on one column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Condition {
    /// Column of the export.
    pub column: String,
    /// What must be true of it.
    pub test: Test,
}

/// What must be true of a cell; words are in normal form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Test {
    /// It is one of these words.
    OneOf(Vec<String>),
    /// It is none of these words.
    NoneOf(Vec<String>),
    /// It is empty.
    Empty,
    /// It is not empty.
    NotEmpty,
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
        check_globs(&raw.files, at)?;
        if raw.table.is_empty() {
            return Err(at.mistake("table", "the mapping fills no table").remedy(
                "add a [[table]] with into = \"visits\", \"cases\", \"findings\" or \"tests\"",
            ));
        }
        let defaults = Defaults::read(&raw.defaults, at)?;
        let mut tables: Vec<TableMapping> = Vec::new();
        for (i, raw_table) in raw.table.iter().enumerate() {
            let table = table_mapping(i, raw_table, &raw.codes, &defaults, &tables, names, at)?;
            tables.push(table);
        }
        check_codes_are_used(&raw, &tables, at)?;
        Ok(Self {
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
        })
    }

    /// Where mistakes that show only with an export at hand are placed.
    pub fn at(&self) -> InMapping<'_> {
        InMapping(&self.file)
    }
}

fn check_globs(files: &[String], at: InMapping) -> Result<()> {
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
    check_constants(&table, names, at)?;
    check_required(&table, at)?;
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

fn words(value: &toml::Value, key: &str, at: InMapping) -> Result<Vec<String>> {
    let list = match value {
        toml::Value::Array(list) => list.iter().map(constant).collect::<Option<Vec<_>>>(),
        other => constant(other).map(|t| vec![t]),
    };
    list.map(|l| l.iter().map(|w| normal_form(w)).collect())
        .ok_or_else(|| {
            at.mistake(key, "should be a word or a list of words, in quotes")
                .value(value.to_string())
        })
}

fn conditions(value: Option<&toml::Value>, key: &str, at: InMapping) -> Result<Vec<Condition>> {
    match value {
        None => Ok(Vec::new()),
        Some(toml::Value::Array(list)) => list.iter().map(|v| condition(v, key, at)).collect(),
        Some(one) => Ok(vec![condition(one, key, at)?]),
    }
}

fn condition(value: &toml::Value, key: &str, at: InMapping) -> Result<Condition> {
    let way_out = "write { column = \"Line\", equals = \"1\" }; there are: equals, not_equals, empty = true, not_empty = true";
    let wrong = |what: &str| {
        at.mistake(key, what)
            .value(value.to_string())
            .remedy(way_out)
    };
    let table = value
        .as_table()
        .ok_or_else(|| wrong("a condition is a table"))?;
    let mut column = None;
    let mut test = None;
    for (name, value) in table {
        let yes = value.as_bool() == Some(true);
        let found = match name.as_str() {
            "column" => {
                column = value.as_str().map(str::to_owned);
                continue;
            }
            "equals" => Test::OneOf(words(value, key, at)?),
            "not_equals" => Test::NoneOf(words(value, key, at)?),
            "empty" if yes => Test::Empty,
            "not_empty" if yes => Test::NotEmpty,
            _ => return Err(wrong("the condition has a key it does not know")),
        };
        if test.replace(found).is_some() {
            return Err(wrong(
                "a condition tests one thing; write a list of conditions for several",
            ));
        }
    }
    match (column, test) {
        (Some(column), Some(test)) => Ok(Condition { column, test }),
        _ => Err(wrong("a condition needs a column and a test")),
    }
}

fn exclusions(raw: &BTreeMap<String, toml::Value>, at: InMapping) -> Result<Vec<Exclusion>> {
    raw.iter()
        .map(|(column, value)| {
            Ok(Exclusion {
                column: column.clone(),
                words: words(value, &format!("exclude.{column:?}"), at)?
                    .into_iter()
                    .collect(),
            })
        })
        .collect()
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

/// A list that no field uses is a misspelt name.
fn check_codes_are_used(raw: &RawMapping, tables: &[TableMapping], at: InMapping) -> Result<()> {
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
                    .remedy("units are km, mi; kPa, psi, bar, kgf/cm2, ohm, kohm, kV, V, ms, us, mm, in, percent, min, h")
            })?;
            Ok((normal_form(word), unit))
        })
        .collect()
}

/// Constants of coded fields must mean something, as every word of an export must.
fn check_constants(table: &TableMapping, names: &Names, at: InMapping) -> Result<()> {
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
fn check_required(table: &TableMapping, at: InMapping) -> Result<()> {
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
