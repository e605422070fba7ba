//! Writes the tables of a layer one after the other, those that are sliced a slice at a time.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::cache::{Building, CachedFile, Manifest};
use super::layer::Layer;
use super::rows::Table;
use super::slice::{BatchLines, Slice};
use super::span_tables::VEHICLE_NUMBERS;
use super::table::{Derived, Sliced};
use crate::domain::problem::{Problem, Result};
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

/// Slices of vehicles that are written at a time.
const LANES: usize = 2;

/// One slice of a table.
struct Part {
    file: PathBuf,
    rows: u64,
    kept: Option<CachedFile>,
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
    /// Writes tables that are sliced alike.
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
        let vehicle_slices = sliced.by_vehicle() && slices.len() > 1;
        let files = if vehicle_slices {
            self.slices_of_vehicles(engine, tables, &slices)?
        } else {
            self.one_by_one(engine, tables, &slices)?
        };
        for (table, files) in tables.iter().zip(files) {
            self.written.push(Written { table, files });
        }
        if slices.len() > 1 {
            // What was shown in slices is whole again for those who read all of it.
            let own = |w: &&Written| tables.iter().any(|t| t.name == w.table.name);
            let shown = |w: &&Written| own(w) || vehicle_slices && w.table.sliced == sliced;
            for written in self.written.iter().filter(shown) {
                register(engine, written.table, written.files.clone())?;
            }
        }
        Ok(())
    }

    /// Writes all tables of the first slice, then all of the second; gives the files by table. A statement that is cut by rows sees of its
    /// own table what was written before.
    fn one_by_one(
        &mut self,
        engine: &mut dyn Engine,
        tables: &[Derived],
        slices: &[Slice],
    ) -> Result<Vec<Vec<PathBuf>>> {
        let mut files = vec![Vec::with_capacity(slices.len()); tables.len()];
        for (i, slice) in slices.iter().enumerate() {
            for (table, files) in tables.iter().zip(&mut files) {
                if table.sliced.by_row() {
                    register(engine, table, files.clone())?;
                }
                let part = self.part(engine, table, i, *slice)?;
                if slices.len() == 1 {
                    register(engine, table, vec![part.file.clone()])?;
                }
                if table.name == VEHICLE_NUMBERS {
                    self.vehicles = part.rows;
                }
                self.kept.extend(part.kept);
                files.push(part.file);
            }
        }
        Ok(files)
    }

    /// The same for slices of vehicles, whose statements read only what was written for their own slice, so that a second slice can be
    /// written beside the first: a statement alone keeps two cores busy for five sixths of its time.
    fn slices_of_vehicles(
        &mut self,
        engine: &mut dyn Engine,
        tables: &[Derived],
        slices: &[Slice],
    ) -> Result<Vec<Vec<PathBuf>>> {
        let lanes: Option<Vec<_>> = (0..LANES).map(|_| engine.beside()).collect();
        let written = match lanes {
            Some(lanes) => self.lanes(lanes, tables, slices)?,
            None => {
                let slices = slices.iter().enumerate();
                slices
                    .map(|(i, slice)| self.slice_of_vehicles(engine, tables, i, *slice))
                    .collect::<Result<_>>()?
            }
        };
        let mut files = vec![Vec::with_capacity(slices.len()); tables.len()];
        for parts in written {
            for (part, files) in parts.into_iter().zip(&mut files) {
                self.kept.extend(part.kept);
                files.push(part.file);
            }
        }
        Ok(files)
    }

    /// Writes slices of vehicles on several threads, each the next that none has begun; gives their parts in order.
    fn lanes(
        &self,
        lanes: Vec<Box<dyn Engine + Send>>,
        tables: &[Derived],
        slices: &[Slice],
    ) -> Result<Vec<Vec<Part>>> {
        let next = AtomicUsize::new(0);
        let work = |mut engine: Box<dyn Engine + Send>| -> Result<Vec<(usize, Vec<Part>)>> {
            let mut done = Vec::new();
            loop {
                let i = next.fetch_add(1, Ordering::Relaxed);
                let Some(slice) = slices.get(i) else {
                    return Ok(done);
                };
                let parts = self.slice_of_vehicles(engine.as_mut(), tables, i, *slice);
                if parts.is_err() {
                    // Nothing more is begun.
                    next.store(slices.len(), Ordering::Relaxed);
                }
                done.push((i, parts?));
            }
        };
        let done = thread::scope(|scope| {
            let work = &work;
            let lanes = lanes.into_iter().map(|e| scope.spawn(move || work(e)));
            let lanes: Vec<_> = lanes.collect();
            let joined = lanes.into_iter().map(|lane| {
                lane.join().unwrap_or_else(|payload| {
                    let what = "making derived history";
                    Err(Problem::stopped_inside(what, payload.as_ref()))
                })
            });
            joined.collect::<Result<Vec<_>>>()
        })?;
        let mut done: Vec<_> = done.into_iter().flatten().collect();
        done.sort_by_key(|(i, _)| *i);
        Ok(done.into_iter().map(|(_, parts)| parts).collect())
    }

    /// Writes one slice of vehicles of each table; shows of the tables sliced likewise only that slice.
    fn slice_of_vehicles(
        &self,
        engine: &mut dyn Engine,
        tables: &[Derived],
        number: usize,
        slice: Slice,
    ) -> Result<Vec<Part>> {
        let sliced = tables.first().map(|t| t.sliced);
        let earlier = self.written.iter();
        for written in earlier.filter(|w| Some(w.table.sliced) == sliced) {
            let file = written.files.get(number).cloned();
            register(engine, written.table, file.into_iter().collect())?;
        }
        let mut parts = Vec::with_capacity(tables.len());
        for table in tables {
            let part = self.part(engine, table, number, slice)?;
            register(engine, table, vec![part.file.clone()])?;
            parts.push(part);
        }
        Ok(parts)
    }

    /// Writes one slice of a table.
    fn part(
        &self,
        engine: &mut dyn Engine,
        table: &Derived,
        number: usize,
        slice: Slice,
    ) -> Result<Part> {
        let name = table.file_name(number);
        let file = self.folder.folder().join(&name);
        let parameters = self.layer.parameters(table, slice);
        let purpose = if table.kept {
            Purpose::Kept
        } else {
            Purpose::Passing
        };
        let rows = statement::write(engine, table.name, &parameters, &file, purpose)?;
        let kept = table.kept.then(|| self.folder.file(&name, rows));
        Ok(Part {
            kept: kept.transpose()?,
            file,
            rows,
        })
    }
}

#[cfg(test)]
mod tests {
    use arrow::record_batch::RecordBatch;

    use super::*;
    use crate::history::options::HistoryOptions;
    use crate::history::table::Sliced;

    /// Writes down what it is asked, and may stop at a slice.
    #[derive(Clone, Copy)]
    struct Stub {
        alone: bool,
        stops: Option<fn() -> Result<u64>>,
    }

    impl Engine for Stub {
        fn register(&mut self, _: &str, _: Rows) -> Result<()> {
            Ok(())
        }

        fn query(&mut self, _: &str) -> Result<RecordBatch> {
            Err(Problem::data("nothing to ask"))
        }

        fn write(&mut self, sql: &str, file: &Path, _: Purpose) -> Result<u64> {
            if let Some(stops) = self.stops
                && file.ends_with("odd_vehicles-2.parquet")
            {
                return stops();
            }
            std::fs::write(file, sql).map_err(|e| Problem::data(e.to_string()))?;
            Ok(u64::try_from(sql.len()).unwrap_or(0))
        }

        fn beside(&self) -> Option<Box<dyn Engine + Send>> {
            (!self.alone).then(|| Box::new(*self) as Box<dyn Engine + Send>)
        }
    }

    const TABLES: &[Derived] = &[
        Derived {
            name: "odd_vehicles",
            columns: &[],
            kept: true,
            sliced: Sliced::ByVehicle,
        },
        Derived {
            name: "spans",
            columns: &[],
            kept: true,
            sliced: Sliced::ByVehicle,
        },
    ];

    fn built(engine: Stub) -> Result<(tempfile::TempDir, Manifest<u64>)> {
        let folder = tempfile::tempdir().unwrap();
        let layer = Layer {
            name: "spans",
            tables: TABLES,
            fingerprint: "test",
            below: "",
            options: HistoryOptions::default(),
            stored_rows: 0,
            vehicles: 40,
            vehicles_a_slice: 5,
        };
        let place = folder.path().join("spans");
        let mut engine = engine;
        let made = build(&layer, folder.path(), &place, "key", &mut engine, |_| {
            Ok(7u64)
        });
        if made.is_err() {
            let left = std::fs::read_dir(folder.path()).unwrap().count();
            assert_eq!(left, 0, "nothing is left of what was not finished");
        }
        Ok((folder, made?))
    }

    #[test]
    fn slices_beside_each_other_are_those_one_after_the_other() {
        let [alone, beside] = [true, false].map(|alone| {
            let (folder, manifest) = built(Stub { alone, stops: None }).unwrap();
            let text = |name: &str| {
                std::fs::read_to_string(folder.path().join("spans").join(name)).unwrap()
            };
            let texts: Vec<_> = manifest.files.iter().map(|f| text(&f.name)).collect();
            (manifest, texts)
        });
        assert_eq!(alone, beside);
        assert_eq!(beside.0.files.len(), 16);
        assert_eq!(beside.0.files[15].name, "spans-7.parquet");
    }

    #[test]
    fn a_slice_that_fails_or_stops_inside_is_told_and_nothing_stays() {
        let fails: fn() -> Result<u64> = || Err(Problem::data("no room"));
        let stops: fn() -> Result<u64> = || panic!("no sense");
        for (alone, stops, said) in [
            (true, fails, "no room"),
            (false, fails, "no room"),
            (
                false,
                stops,
                "making derived history stopped inside: no sense",
            ),
        ] {
            let engine = Stub {
                alone,
                stops: Some(stops),
            };
            let problem = built(engine).unwrap_err().to_string();
            assert!(problem.contains(said), "{problem}");
        }
    }
}
