//! A mapping laid over the columns of one export: names become column numbers, and a name that is not there is told with
//! the ones that are.

use crate::domain::problem::Result;
use crate::domain::table::Table;
use crate::ingest::read::{DateOrder, RecordReader};

use super::code_list::CodeList;
use super::condition::{Condition, Test};
use super::export_date::ExportDate;
use super::field::Field;
use super::file::{Mapping, TableMapping};
use super::mistake::one_of;
use super::source::{FieldSource, UnitSource, VehicleKind};

/// A mapping bound to an export.
#[derive(Debug)]
pub struct Plan {
    /// What the export feeds.
    pub tables: Vec<BoundTable>,
    /// Column and words of each exclusion.
    pub exclude: Vec<(usize, std::collections::HashSet<String>)>,
    /// Column of the export's day.
    pub export_date: Option<usize>,
    /// Every column that is used, by number, with its name.
    pub used: Vec<(usize, String)>,
}

/// One `[[table]]`, bound.
#[derive(Debug)]
pub struct BoundTable {
    /// Table it feeds.
    pub into: Table,
    /// Behind the record's key: "#2" for the second entry that feeds this table, nothing for the first.
    pub suffix: String,
    /// All must hold.
    pub when: Vec<(usize, Test)>,
    /// Columns of the key; empty = natural key.
    pub record: Vec<usize>,
    /// By [`Field::index`].
    pub fields: Vec<BoundField>,
}

/// A field, bound; one that is neither mapped nor has a default is empty.
#[derive(Debug, Clone, Default)]
pub struct BoundField {
    /// Column.
    pub column: Option<usize>,
    /// Constant of the mapping, used where there is no column or the cell is empty.
    pub constant: Option<String>,
    /// Code list.
    pub codes: CodeList,
    /// Takes the value out of a longer text.
    pub pattern: Option<regex::Regex>,
    /// Order of day and month.
    pub dates: DateOrder,
    /// Unit, if the same for all.
    pub unit: Option<String>,
    /// Column of the unit.
    pub unit_column: Option<usize>,
    /// A leakage reading that says what is held.
    pub held: bool,
    /// What a vehicle column holds.
    pub kind: VehicleKind,
    /// Column of the unit number.
    pub unit_id: Option<usize>,
}

impl BoundField {
    /// Whether the field can have a value at all.
    pub fn is_given(&self) -> bool {
        self.column.is_some() || self.constant.is_some()
    }
}

impl BoundTable {
    /// A field of the table.
    pub fn field(&self, field: Field) -> Option<&BoundField> {
        self.fields.get(field.index()).filter(|f| f.is_given())
    }
}

/// Finds columns and remembers which are used.
struct Binder<'a> {
    mapping: &'a Mapping,
    reader: &'a mut dyn RecordReader,
    export: &'a std::path::Path,
    used: Vec<(usize, String)>,
}

impl Plan {
    /// Lays `mapping` over the columns that `reader` has.
    ///
    /// # Errors
    /// A column of the mapping that the export does not have.
    pub fn bind(
        mapping: &Mapping,
        reader: &mut dyn RecordReader,
        export: &std::path::Path,
    ) -> Result<Self> {
        let mut binder = Binder {
            mapping,
            reader,
            export,
            used: Vec::new(),
        };
        let tables = mapping
            .tables
            .iter()
            .map(|t| binder.table(t))
            .collect::<Result<Vec<_>>>()?;
        let exclude = mapping
            .exclude
            .iter()
            .map(|e| Ok((binder.column(&e.column, "exclude")?, e.words.clone())))
            .collect::<Result<Vec<_>>>()?;
        let export_date = match &mapping.export_date {
            ExportDate::Column(name) => Some(binder.column(name, "export_date.column")?),
            _ => None,
        };
        let mut used = binder.used;
        used.sort();
        used.dedup();
        Ok(Self {
            tables,
            exclude,
            export_date,
            used,
        })
    }
}

impl Binder<'_> {
    fn table(&mut self, table: &TableMapping) -> Result<BoundTable> {
        let mut fields = vec![
            BoundField {
                dates: self.mapping.format.dates,
                ..BoundField::default()
            };
            Field::ALL.len()
        ];
        for (field, source) in &table.fields {
            let key = format!("{}.columns.{}", table.key, field.name());
            let bound = self.field(source, &key)?;
            if let Some(place) = fields.get_mut(field.index()) {
                *place = bound;
            }
        }
        for (field, value) in &table.defaults {
            if let Some(bound) = fields.get_mut(field.index()) {
                bound.constant.get_or_insert_with(|| value.clone());
            }
        }
        for (field, list) in &table.codes {
            if let Some(bound) = fields.get_mut(field.index()) {
                bound.codes = list.clone();
            }
        }
        let record_key = format!("{}.columns.record", table.key);
        let when_key = format!("{}.when", table.key);
        Ok(BoundTable {
            into: table.into,
            suffix: match table.ordinal {
                1 => String::new(),
                n => format!("#{n}"),
            },
            when: table
                .when
                .iter()
                .map(|Condition { column, test }| {
                    Ok((self.column(column, &when_key)?, test.clone()))
                })
                .collect::<Result<Vec<_>>>()?,
            record: table
                .record
                .iter()
                .map(|name| self.column(name, &record_key))
                .collect::<Result<Vec<_>>>()?,
            fields,
        })
    }

    fn field(&mut self, source: &FieldSource, key: &str) -> Result<BoundField> {
        let mut bound = BoundField {
            constant: source.value.clone(),
            pattern: source.pattern.clone(),
            dates: source.dates.unwrap_or(self.mapping.format.dates),
            held: source.held,
            kind: source.kind,
            ..BoundField::default()
        };
        if let Some(name) = &source.column {
            bound.column = Some(self.column(name, key)?);
        }
        match &source.unit {
            UnitSource::None => {}
            UnitSource::Fixed(unit) => bound.unit = Some(unit.clone()),
            UnitSource::Column(name) => {
                bound.unit_column = Some(self.column(name, &format!("{key}.unit_column"))?)
            }
        }
        if let Some(name) = &source.unit_id {
            bound.unit_id = Some(self.column(name, &format!("{key}.unit_id"))?);
        }
        Ok(bound)
    }

    fn column(&mut self, name: &str, key: &str) -> Result<usize> {
        if let Some(index) = self.reader.column(name) {
            self.used.push((index, name.to_owned()));
            return Ok(index);
        }
        let known: Vec<&str> = self
            .reader
            .header()
            .names()
            .iter()
            .map(String::as_str)
            .collect();
        Err(self
            .mapping
            .at()
            .mistake(
                key,
                format!("{} has no column of this name", self.export.display()),
            )
            .value(name)
            .remedy(one_of(name, &known)))
    }
}
