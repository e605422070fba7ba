//! The first records of an export, column by column.

use std::collections::BTreeMap;
use std::path::Path;

use crate::domain::problem::{Problem, Result};
use crate::ingest::cell::text;
use crate::ingest::read::{self, CellKind, DamageReason, Encoding, Format, RawRecord, ReadOutcome};

/// Records looked at.
const RECORDS: usize = 5000;
/// Different values kept of one column.
const VALUES: usize = 500;

/// One column.
#[derive(Debug, Clone, Default)]
pub struct Column {
    /// Its name.
    pub name: String,
    /// Values that are not empty, with how often they stand.
    pub values: BTreeMap<String, u64>,
    /// How many cells are not empty.
    pub filled: u64,
    /// Cells that the format stored as numbers or days: their marks and order are settled.
    pub typed: u64,
}

/// The first records of an export.
#[derive(Debug, Clone, Default)]
pub struct Sample {
    /// Column by column.
    pub columns: Vec<Column>,
    /// Records looked at.
    pub records: usize,
    /// Encoding that had to be stated to read it.
    pub encoding: Option<Encoding>,
    /// What the reader found out.
    pub notes: Vec<String>,
    /// Records with a letter beyond ASCII.
    pub beyond_ascii: usize,
    /// Records that could not be read.
    pub damaged: usize,
}

impl Sample {
    /// Reads the first records. Text that is not UTF-8 is read as Windows-1252, which has a letter for nearly every byte;
    /// a few such lines among many proper ones are damage, and the file is UTF-8 all the same.
    pub fn take(file: &Path) -> Result<Self> {
        let first = Self::read(file, &Format::default());
        match first {
            Ok((sample, undecodable)) if undecodable <= sample.beyond_ascii => return Ok(sample),
            Err(problem) if !problem.to_string().contains("is no text") => return Err(problem),
            _ => {}
        }
        let format = Format {
            encoding: Some(Encoding::Windows1252),
            ..Format::default()
        };
        let (mut sample, _) = Self::read(file, &format)?;
        sample.encoding = Some(Encoding::Windows1252);
        Ok(sample)
    }

    fn read(file: &Path, format: &Format) -> Result<(Self, usize)> {
        let mut reader = read::open(file, format)?;
        let mut sample = Self::default();
        let mut undecodable = 0;
        let mut record = RawRecord::new();
        while sample.records + sample.damaged < RECORDS {
            match reader.read(&mut record)? {
                ReadOutcome::Record => {
                    sample.records += 1;
                    sample.beyond_ascii += usize::from(record.iter().any(|cell| !cell.is_ascii()));
                    sample.add(reader.header().names(), &record);
                }
                ReadOutcome::Damaged(damage) => {
                    sample.damaged += 1;
                    undecodable += usize::from(damage.reason == DamageReason::UndecodableBytes);
                }
                ReadOutcome::End => break,
            }
        }
        sample.notes = reader.notes().to_vec();
        if sample.records == 0 {
            return Err(Problem::data("the file has no record to learn from")
                .file(file)
                .remedy(
                "check that it is an export with a line of column names, or write the mapping by hand",
            ));
        }
        Ok((sample, undecodable))
    }

    fn add(&mut self, names: &[String], record: &RawRecord) {
        for (i, name) in names.iter().enumerate() {
            if self.columns.len() <= i {
                self.columns.push(Column {
                    name: name.clone(),
                    ..Column::default()
                });
            }
            let value = text::trim(record.get(i));
            let Some(column) = self.columns.get_mut(i).filter(|_| !value.is_empty()) else {
                continue;
            };
            column.filled += 1;
            column.typed += u64::from(matches!(record.kind(i), CellKind::Number | CellKind::Day));
            if let Some(count) = column.values.get_mut(value) {
                *count += 1;
            } else if column.values.len() < VALUES {
                column.values.insert(value.to_owned(), 1);
            }
        }
    }
}
