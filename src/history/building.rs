//! Writes the tables of a layer one after the other, those that are sliced a slice at a time.

use std::path::{Path, PathBuf};

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::cache::{Building, CachedFile, Manifest};
use super::layer::Layer;
use super::rows::Table;
use super::slice::{BatchLines, Slice};
use super::span_tables::VEHICLE_NUMBERS;
use super::table::{Derived, Sliced};
use crate::domain::problem::Result;
use crate::query::engine::{Engine, Purpose, Rows};
use crate::query::statement;

/// Builds a layer beside its place and puts it there; gives the manifest that stands there in the end.
///
/// # Errors
/// Those of the statements, and of writing.
pub fn build<A: Serialize + DeserializeOwned>(
    layer: &Layer<'_>,
    history: &Path,
    place: &Path,
    key: &str,
    engine: &mut dyn Engine,
    count: fn(&mut dyn Engine) -> Result<A>,
) -> Result<Manifest<A>> {
    let mut writing = Writing {
        layer,
        folder: Building::begin(history, key)?,
        vehicles: layer.vehicles,
        written: Vec::new(),
        kept: Vec::new(),
    };
    let likewise = |a: &Derived, b: &Derived| a.sliced == b.sliced && a.sliced.by_vehicle();
    for run in layer.tables.chunk_by(likewise) {
        writing.run(engine, run)?;
    }
    let account = count(engine)?;
    for written in writing.written.iter().filter(|w| !w.table.kept) {
        // Only an intermediate: nothing reads it any more, and an empty table takes its place.
        register(engine, written.table, Vec::new())?;
        for file in &written.files {
            // A file that stays costs space only.
            let _ = std::fs::remove_file(file);
        }
    }
    writing.folder.finish(
        place,
        Manifest {
            key: key.to_owned(),
            fingerprint: layer.fingerprint.to_owned(),
            files: writing.kept,
            account,
        },
    )
}

/// Makes the files of a table known to the engine.
pub fn register(engine: &mut dyn Engine, table: &Derived, files: Vec<PathBuf>) -> Result<()> {
    engine.register(
        table.name,
        Rows::Parquet {
            files,
            schema: table.schema(),
        },
    )
}

/// Where the rows stand in the batches.
fn row_lines(engine: &mut dyn Engine) -> Result<Vec<BatchLines>> {
    let batch = statement::query(engine, "row_lines", &[])?;
    let table = Table::new(&batch);
    let batches = table.count("batch")?.into_iter();
    let lines = table
        .count("row_count")?
        .into_iter()
        .zip(table.count("last_line")?);
    Ok(batches
        .zip(lines)
        .map(|(batch, (rows, last_line))| BatchLines {
            batch,
            rows: u64::try_from(rows).unwrap_or(0),
            last_line,
        })
        .collect())
}

/// A table that is written, one file a slice.
struct Written<'a> {
    table: &'a Derived,
    files: Vec<PathBuf>,
}

struct Writing<'a> {
    layer: &'a Layer<'a>,
    folder: Building,
    vehicles: u64,
    written: Vec<Written<'a>>,
    kept: Vec<CachedFile>,
}

impl<'a> Writing<'a> {
    /// Writes tables that are sliced alike: all of the first slice, then all of the second, so that each statement reads only
    /// what was written for its own slice.
    fn run(&mut self, engine: &mut dyn Engine, tables: &'a [Derived]) -> Result<()> {
        let sliced = tables.first().map_or(Sliced::Not, |t| t.sliced);
        let slices = match sliced {
            Sliced::Not => vec![Slice::all(sliced)],
            Sliced::ByVehicle => Slice::of_vehicles(self.vehicles, self.layer.vehicles_a_slice),
            Sliced::ByManyVehicles => {
                Slice::of_many_vehicles(self.vehicles, self.layer.vehicles_a_slice)
            }
            Sliced::ByDigest => Slice::of_digests(self.layer.stored_rows),
            Sliced::ByRow => Slice::of_rows(&row_lines(engine)?),
            Sliced::ByManyRows => Slice::of_many_rows(&row_lines(engine)?),
        };
        let narrow = sliced.by_vehicle() && slices.len() > 1;
        let before = self.written.len();
        for table in tables {
            let files = Vec::with_capacity(slices.len());
            self.written.push(Written { table, files });
        }
        for (i, slice) in slices.iter().enumerate() {
            if narrow {
                self.narrow(engine, sliced, before, i)?;
            }
            if sliced.by_row() {
                for written in self.written.iter().skip(before) {
                    register(engine, written.table, written.files.clone())?;
                }
            }
            for (table, place) in tables.iter().zip(before..) {
                let (file, rows) = self.write(engine, table, i, *slice)?;
                if narrow {
                    register(engine, table, vec![file.clone()])?;
                } else if i + 1 == slices.len() {
                    let earlier = self.written.get(place).map(|w| w.files.clone());
                    let files = earlier.into_iter().flatten().chain([file.clone()]);
                    register(engine, table, files.collect())?;
                }
                if let Some(written) = self.written.get_mut(place) {
                    written.files.push(file);
                }
                if table.name == VEHICLE_NUMBERS {
                    self.vehicles = rows;
                }
            }
        }
        if narrow {
            for written in self.written.iter().filter(|w| w.table.sliced == sliced) {
                register(engine, written.table, written.files.clone())?;
            }
        }
        Ok(())
    }

    /// Shows of the tables sliced likewise that were written earlier only one slice.
    fn narrow(
        &self,
        engine: &mut dyn Engine,
        sliced: Sliced,
        before: usize,
        slice: usize,
    ) -> Result<()> {
        let earlier = self.written.iter().take(before);
        for written in earlier.filter(|w| w.table.sliced == sliced) {
            let file = written.files.get(slice).cloned();
            register(engine, written.table, file.into_iter().collect())?;
        }
        Ok(())
    }

    fn write(
        &mut self,
        engine: &mut dyn Engine,
        table: &Derived,
        number: usize,
        slice: Slice,
    ) -> Result<(PathBuf, u64)> {
        let name = table.file_name(number);
        let file = self.folder.folder().join(&name);
        let parameters = self.layer.parameters(table, slice);
        let purpose = if table.kept {
            Purpose::Kept
        } else {
            Purpose::Passing
        };
        let rows = statement::write(engine, table.name, &parameters, &file, purpose)?;
        if table.kept {
            self.kept.push(self.folder.file(&name, rows)?);
        }
        Ok((file, rows))
    }
}
