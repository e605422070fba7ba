//! Sorts the rows of many files into few, with bounded memory: sorted runs on disk, then one merge of all runs.
//!
//! Rows that are asked for together come to lie together: by engine family and vehicle, or by case. Row groups then have
//! narrow ranges, and an engine skips those that a question does not touch. The order is total, so the bytes that come
//! out depend on the rows alone.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::path::{Path, PathBuf};

use arrow::array::ArrayRef;
use arrow::compute::{concat_batches, interleave_record_batch, take_record_batch};
use arrow::error::ArrowError;
use arrow::record_batch::RecordBatch;
use arrow::row::{OwnedRow, RowConverter, Rows, SortField};

use super::rewrite;
use super::schema::arrow_schema;
use super::table_writer::{ParquetFile, TableFile};
use crate::domain::problem::{Problem, Result};
use crate::domain::table::Table;

/// What bounds the memory and the size of the files.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    /// Rows of a run that is sorted in memory.
    pub run_rows: usize,
    /// Bytes of a run that is sorted in memory.
    pub run_bytes: usize,
    /// Rows of a file that comes out.
    pub file_rows: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            run_rows: 512 * 1024,
            run_bytes: 192 * 1024 * 1024,
            file_rows: 8 * 1024 * 1024,
        }
    }
}

/// The columns a table is sorted by; the last ones make the order total.
fn sort_columns(table: Table) -> &'static [&'static str] {
    match table {
        Table::Visits => &[
            "engine_family",
            "vehicle",
            "date",
            "source",
            "record",
            "batch",
            "line",
            "digest",
        ],
        Table::Cases => &[
            "engine_family",
            "vehicle",
            "opened",
            "source",
            "record",
            "batch",
            "line",
            "digest",
        ],
        Table::Findings => &["source", "case_id", "record", "batch", "line", "digest"],
        Table::Tests => &[
            "source", "case_id", "step", "record", "batch", "line", "digest",
        ],
        Table::Quarantine => &[
            "source", "file", "line", "record", "batch", "target", "digest",
        ],
        // No batch keeps one.
        Table::Roster => &["record", "line", "digest"],
    }
}

/// Sorts the rows of `inputs` into new files in `target`.
pub(super) fn sort(
    table: Table,
    inputs: &[PathBuf],
    target: &Path,
    limits: Limits,
) -> Result<Vec<TableFile>> {
    let order = Order::new(table)?;
    let runs = sorted_runs(&order, inputs, target, limits)?;
    let mut output = Output {
        table,
        target,
        limits,
        file: None,
        rows: 0,
        done: Vec::new(),
    };
    merge(&order, &runs, &mut output)?;
    for run in runs.iter().filter_map(Run::path) {
        std::fs::remove_file(run).map_err(failed)?;
    }
    output.finish()
}

fn failed(error: impl std::fmt::Display) -> Problem {
    Problem::data(format!("could not sort the rows of the store: {error}"))
}

/// Makes rows comparable.
struct Order {
    table: Table,
    columns: Vec<usize>,
    converter: RowConverter,
}

impl Order {
    fn new(table: Table) -> Result<Self> {
        let schema = arrow_schema(table);
        let mut columns = Vec::new();
        let mut fields = Vec::new();
        for name in sort_columns(table) {
            let (index, field) = schema.column_with_name(name).ok_or_else(|| failed(name))?;
            columns.push(index);
            fields.push(SortField::new(field.data_type().clone()));
        }
        let converter = RowConverter::new(fields).map_err(failed)?;
        Ok(Self {
            table,
            columns,
            converter,
        })
    }

    fn keys(&self, batch: &RecordBatch) -> Result<Rows> {
        let columns: Option<Vec<ArrayRef>> = self
            .columns
            .iter()
            .map(|i| batch.columns().get(*i).cloned())
            .collect();
        let columns = columns.ok_or_else(|| failed("a column is missing"))?;
        self.converter.convert_columns(&columns).map_err(failed)
    }

    fn sorted(&self, parts: &[RecordBatch]) -> Result<RecordBatch> {
        let whole = concat_batches(&arrow_schema(self.table), parts).map_err(failed)?;
        let keys = self.keys(&whole)?;
        let rows = u32::try_from(whole.num_rows()).map_err(failed)?;
        let mut order: Vec<u32> = (0..rows).collect();
        order.sort_by(|a, b| keys.row(*a as usize).cmp(&keys.row(*b as usize)));
        take_record_batch(&whole, &arrow::array::UInt32Array::from(order)).map_err(failed)
    }
}

/// Sorted rows: the only run stays in memory, several go to disk.
enum Run {
    Held(RecordBatch),
    File(PathBuf),
}

impl Run {
    fn path(&self) -> Option<&Path> {
        match self {
            Run::Held(_) => None,
            Run::File(path) => Some(path),
        }
    }

    fn read(
        &self,
    ) -> Result<Box<dyn Iterator<Item = std::result::Result<RecordBatch, ArrowError>>>> {
        Ok(match self {
            Run::Held(batch) => Box::new(std::iter::once(Ok(batch.clone()))),
            Run::File(path) => Box::new(rewrite::read(path)?),
        })
    }
}

fn sorted_runs(
    order: &Order,
    inputs: &[PathBuf],
    target: &Path,
    limits: Limits,
) -> Result<Vec<Run>> {
    let mut runs = Vec::new();
    let mut parts = Vec::new();
    let (mut rows, mut bytes) = (0, 0);
    for input in inputs {
        for batch in rewrite::read(input)? {
            let batch = batch.map_err(failed)?;
            let more = batch.get_array_memory_size();
            if !parts.is_empty()
                && (rows + batch.num_rows() > limits.run_rows || bytes + more > limits.run_bytes)
            {
                let path = target.join(format!("{}-run-{}", order.table.name(), runs.len()));
                let mut file = ParquetFile::create_run(&path, order.table)?;
                file.write(&order.sorted(&parts)?)?;
                file.finish()?;
                runs.push(Run::File(path));
                parts.clear();
                (rows, bytes) = (0, 0);
            }
            rows += batch.num_rows();
            bytes += more;
            parts.push(batch);
        }
    }
    if !parts.is_empty() {
        runs.push(Run::Held(order.sorted(&parts)?));
    }
    Ok(runs)
}

/// Where the merge stands in one run.
struct Cursor {
    batches: Box<dyn Iterator<Item = std::result::Result<RecordBatch, ArrowError>>>,
    batch: RecordBatch,
    keys: Rows,
    at: usize,
}

impl Cursor {
    fn open(order: &Order, run: &Run) -> Result<Option<Self>> {
        let mut batches = run.read()?;
        let Some(batch) = batches.next().transpose().map_err(failed)? else {
            return Ok(None);
        };
        let keys = order.keys(&batch)?;
        Ok(Some(Self {
            batches,
            batch,
            keys,
            at: 0,
        }))
    }

    fn key(&self) -> OwnedRow {
        self.keys.row(self.at).owned()
    }

    /// Reads on; says whether there is more.
    fn next_batch(&mut self, order: &Order) -> Result<bool> {
        let Some(batch) = self.batches.next().transpose().map_err(failed)? else {
            return Ok(false);
        };
        self.keys = order.keys(&batch)?;
        self.batch = batch;
        self.at = 0;
        Ok(true)
    }
}

fn merge(order: &Order, runs: &[Run], output: &mut Output) -> Result<()> {
    let mut cursors = Vec::new();
    for run in runs {
        cursors.extend(Cursor::open(order, run)?);
    }
    let mut heap: BinaryHeap<Reverse<(OwnedRow, usize)>> = cursors
        .iter()
        .enumerate()
        .map(|(i, c)| Reverse((c.key(), i)))
        .collect();
    let mut picked: Vec<(usize, usize)> = Vec::new();
    while let Some(Reverse((_, i))) = heap.pop() {
        let Some(cursor) = cursors.get_mut(i) else {
            continue;
        };
        picked.push((i, cursor.at));
        cursor.at += 1;
        if cursor.at < cursor.batch.num_rows() {
            heap.push(Reverse((cursor.key(), i)));
            continue;
        }
        // The picked rows still point into the batch that is about to go.
        output.write(&cursors, &mut picked)?;
        if let Some(cursor) = cursors.get_mut(i)
            && cursor.next_batch(order)?
        {
            heap.push(Reverse((cursor.key(), i)));
        }
    }
    output.write(&cursors, &mut picked)
}

/// Takes the merged rows into files of bounded size.
struct Output<'a> {
    table: Table,
    target: &'a Path,
    limits: Limits,
    file: Option<ParquetFile>,
    rows: u64,
    done: Vec<TableFile>,
}

impl Output<'_> {
    fn write(&mut self, cursors: &[Cursor], picked: &mut Vec<(usize, usize)>) -> Result<()> {
        if picked.is_empty() {
            return Ok(());
        }
        let batches: Vec<&RecordBatch> = cursors.iter().map(|c| &c.batch).collect();
        let rows = interleave_record_batch(&batches, picked).map_err(failed)?;
        picked.clear();
        let file = match &mut self.file {
            Some(file) => file,
            None => {
                let name = format!("{}-{}.parquet", self.table.name(), self.done.len());
                let file = ParquetFile::create_sorted(&self.target.join(name), self.table)?;
                self.file.insert(file)
            }
        };
        file.write(&rows)?;
        self.rows += rows.num_rows() as u64;
        if self.rows >= self.limits.file_rows {
            self.end_file()?;
        }
        Ok(())
    }

    fn end_file(&mut self) -> Result<()> {
        self.rows = 0;
        self.done
            .extend(self.file.take().map(ParquetFile::finish).transpose()?);
        Ok(())
    }

    fn finish(mut self) -> Result<Vec<TableFile>> {
        self.end_file()?;
        Ok(self.done)
    }
}
