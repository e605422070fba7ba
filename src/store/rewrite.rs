//! Copies the rows of a folder into new files, leaving out those of some batches.

use std::fs::File;
use std::path::Path;

use arrow::array::{Array, AsArray, BooleanArray};
use arrow::compute::filter_record_batch;
use arrow::datatypes::Int64Type;
use arrow::record_batch::RecordBatch;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

use super::layout::Layout;
use super::snapshot::Named;
use super::table_writer::{ParquetFile, TableFile};
use crate::domain::problem::{AtFile, Problem, Result};
use crate::domain::table::Table;

/// Rows read at a time.
const READ_ROWS: usize = 16 * 1024;

/// Writes what `old` holds, without the batches numbered in `dropped`, to new files in `target`.
pub(super) fn without_batches(
    layout: &Layout,
    old: &Named,
    dropped: &[i64],
    target: &Path,
) -> Result<Vec<TableFile>> {
    let mut files = Vec::new();
    for (i, file) in old.folder.files.iter().enumerate() {
        let path = layout.batch(&old.name).join(&file.name);
        let table = Table::from_name(&file.table).ok_or_else(|| {
            Problem::data("the batch's description names a table that does not exist")
                .file(layout.batch_info(&old.name))
                .value(&file.table)
        })?;
        let name = format!("{}-of-{}-{i}.parquet", table.name(), old.name);
        let mut out: Option<ParquetFile> = None;
        for batch in read(&path)? {
            let kept = without(&batch.at_file("read", &path)?, dropped).at_file("read", &path)?;
            if kept.num_rows() == 0 {
                continue;
            }
            let writer = match &mut out {
                Some(writer) => writer,
                None => out.insert(ParquetFile::create(&target.join(&name), table)?),
            };
            writer.write(&kept)?;
        }
        files.extend(out.map(ParquetFile::finish).transpose()?);
    }
    Ok(files)
}

/// The rows of one file, a part at a time.
pub(super) fn read(
    path: &Path,
) -> Result<impl Iterator<Item = std::result::Result<RecordBatch, arrow::error::ArrowError>> + use<>>
{
    let file = File::open(path).at_file("read", path)?;
    ParquetRecordBatchReaderBuilder::try_new(file)
        .and_then(|b| b.with_batch_size(READ_ROWS).build())
        .at_file("read", path)
}

fn without(
    batch: &RecordBatch,
    dropped: &[i64],
) -> std::result::Result<RecordBatch, arrow::error::ArrowError> {
    let numbers = batch
        .column_by_name("batch")
        .and_then(|c| c.as_primitive_opt::<Int64Type>())
        .ok_or_else(|| arrow::error::ArrowError::SchemaError("there is no column batch".into()))?;
    let keep: BooleanArray = (0..numbers.len())
        .map(|row| Some(numbers.is_null(row) || !dropped.contains(&numbers.value(row))))
        .collect();
    filter_record_batch(batch, &keep)
}
