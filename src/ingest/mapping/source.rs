//! Where the value of one field comes from.

use regex::Regex;

use crate::domain::problem::Result;
use crate::ingest::cell::date;
use crate::ingest::read::DateOrder;

use super::field::{Field, Words};
use super::mistake::InMapping;
use super::raw::constant;

/// Where a unit comes from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum UnitSource {
    /// Only what stands in the cell itself, or the default.
    #[default]
    None,
    /// The same for all.
    Fixed(String),
    /// A column of its own.
    Column(String),
}

/// What a vehicle column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum VehicleKind {
    /// A vehicle identification number.
    #[default]
    Vin,
    /// A unit number of the shop or fleet, unique within the source.
    Unit,
}

/// Where the value of one field comes from, checked.
#[derive(Debug, Clone, Default)]
pub struct FieldSource {
    /// Column of the export; `None` if the field is a constant.
    pub column: Option<String>,
    /// Constant.
    pub value: Option<String>,
    /// Name of the code list, if not the field's own.
    pub codes: Option<String>,
    /// Takes the value out of a longer text; has exactly one group.
    pub pattern: Option<Regex>,
    /// Order of day and month of this column.
    pub dates: Option<DateOrder>,
    /// Unit of the number.
    pub unit: UnitSource,
    /// A leakage reading that says what is held.
    pub held: bool,
    /// What a vehicle column holds.
    pub kind: VehicleKind,
    /// Column of the unit number where the vehicle number cannot be used.
    pub unit_id: Option<String>,
}

const KEYS: &[&str] = &[
    "column",
    "value",
    "codes",
    "pattern",
    "dates",
    "unit",
    "unit_column",
    "held",
    "kind",
    "unit_id",
];

impl FieldSource {
    /// A constant.
    pub fn constant(value: String) -> Self {
        Self {
            value: Some(value),
            ..Self::default()
        }
    }

    /// Reads one entry of `[table.columns]`; `key` is its full key.
    pub fn read(field: Field, value: &toml::Value, key: &str, at: InMapping) -> Result<Self> {
        let table = match value {
            toml::Value::String(column) => {
                return Ok(Self {
                    column: Some(column.clone()),
                    ..Self::default()
                });
            }
            toml::Value::Table(table) => table,
            other => {
                return Err(at
                    .mistake(key, "a field is filled by a column name or a table")
                    .value(other.to_string())
                    .remedy("write \"Column\" or { column = \"Column\", ... } or { value = \"constant\" }"));
            }
        };
        let mut source = Self::default();
        for (name, value) in table {
            let key = format!("{key}.{name}");
            source.set(field, name, value, &key, at)?;
        }
        if source.column.is_some() == source.value.is_some() {
            return Err(at
                .mistake(key, "a field needs either a column or a value")
                .remedy("give exactly one of `column` and `value`"));
        }
        Ok(source)
    }

    fn set(
        &mut self,
        field: Field,
        name: &str,
        value: &toml::Value,
        key: &str,
        at: InMapping,
    ) -> Result<()> {
        let text = || {
            constant(value).ok_or_else(|| {
                at.mistake(key, "should be a text")
                    .value(value.to_string())
                    .remedy("write it in quotes")
            })
        };
        let fits = |yes: bool, what: &str| {
            if yes {
                Ok(())
            } else {
                Err(at
                    .mistake(key, format!("{} takes no `{name}`", field.name()))
                    .value(value.to_string())
                    .remedy(format!("`{name}` belongs to {what}")))
            }
        };
        match name {
            "column" => self.column = Some(text()?),
            "value" => self.value = Some(text()?),
            "codes" => {
                fits(field.words() != Words::None, "fields with code words")?;
                self.codes = Some(text()?);
            }
            "pattern" => self.pattern = Some(pattern(&text()?, key, at)?),
            "dates" => {
                fits(field.is_day(), "date, opened and closed")?;
                self.dates = Some(order(&text()?, key, at)?);
            }
            "unit" => {
                fits(
                    field.has_unit(),
                    "odometer, reading, labour_hours and minutes",
                )?;
                self.unit = UnitSource::Fixed(text()?);
            }
            "unit_column" => {
                fits(
                    field.has_unit(),
                    "odometer, reading, labour_hours and minutes",
                )?;
                self.unit = UnitSource::Column(text()?);
            }
            "held" => {
                fits(field == Field::Reading, "reading")?;
                self.held = value.as_bool().ok_or_else(|| {
                    at.mistake(key, "should be true or false")
                        .value(value.to_string())
                })?;
            }
            "kind" => {
                fits(field == Field::Vehicle, "vehicle")?;
                self.kind = match text()?.as_str() {
                    "vin" => VehicleKind::Vin,
                    "unit" => VehicleKind::Unit,
                    other => {
                        return Err(at.unknown(
                            key,
                            "kind of vehicle column",
                            other,
                            ["vin", "unit"],
                        ));
                    }
                };
            }
            "unit_id" => {
                fits(field == Field::Vehicle, "vehicle")?;
                self.unit_id = Some(text()?);
            }
            other => return Err(at.unknown(key, "key of a column", other, KEYS.iter().copied())),
        }
        Ok(())
    }
}

fn pattern(text: &str, key: &str, at: InMapping) -> Result<Regex> {
    let way_out =
        "write a regular expression with one group in round brackets, for instance '#(\\d+)'";
    let pattern = Regex::new(text).map_err(|e| {
        at.mistake(key, format!("not a regular expression: {e}"))
            .value(text)
            .remedy(way_out)
    })?;
    if pattern.captures_len() != 2 {
        return Err(at
            .mistake(key, "the pattern should have exactly one group")
            .value(text)
            .remedy(way_out));
    }
    Ok(pattern)
}

fn order(text: &str, key: &str, at: InMapping) -> Result<DateOrder> {
    date::WORDS
        .iter()
        .find(|(word, _)| *word == text)
        .map(|(_, order)| *order)
        .ok_or_else(|| at.unknown(key, "date order", text, date::WORDS.iter().map(|(w, _)| *w)))
}
