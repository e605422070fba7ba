//! The main table of an answer as a Parquet file in memory.

use std::sync::Arc;

use arrow::array::{ArrayRef, Date32Array, Float64Array, Int64Array, StringArray};
use arrow::datatypes::{DataType, Field, Schema};
use arrow::record_batch::RecordBatch;
use parquet::arrow::ArrowWriter;
use parquet::basic::{Compression, ZstdLevel};
use parquet::file::properties::WriterProperties;

use crate::answer::sheet::{Cell, Grid, Sheet, Show};
use crate::domain::problem::{Problem, Result};

/// The first grid; a column is text, whole, number or day by what its heading shows and its cells hold.
pub fn render(sheet: &Sheet) -> Result<Vec<u8>> {
    let failed = |e: String| Problem::data(format!("could not write the table as Parquet: {e}"));
    let Some(grid) = sheet.grids.first() else {
        return Err(failed("this answer has no table".to_string()));
    };
    let columns: Vec<(Field, ArrayRef)> =
        (0..grid.headings.len()).map(|i| column(grid, i)).collect();
    let schema = Arc::new(Schema::new(
        columns.iter().map(|(f, _)| f.clone()).collect::<Vec<_>>(),
    ));
    let batch = RecordBatch::try_new(
        schema.clone(),
        columns.into_iter().map(|(_, a)| a).collect(),
    )
    .map_err(|e| failed(e.to_string()))?;
    let properties = WriterProperties::builder()
        .set_compression(Compression::ZSTD(ZstdLevel::default()))
        .build();
    let mut bytes = Vec::new();
    let mut writer = ArrowWriter::try_new(&mut bytes, schema, Some(properties))
        .map_err(|e| failed(e.to_string()))?;
    writer.write(&batch).map_err(|e| failed(e.to_string()))?;
    writer.close().map_err(|e| failed(e.to_string()))?;
    Ok(bytes)
}

fn column(grid: &Grid, i: usize) -> (Field, ArrayRef) {
    let heading = &grid.headings[i];
    let cells = || grid.rows.iter().map(move |r| &r[i]);
    let (kind, array): (DataType, ArrayRef) = match heading.show {
        Show::Text => (
            DataType::Utf8,
            Arc::new(StringArray::from_iter(cells().map(|c| match c {
                Cell::Text(t) => Some(t.clone()),
                Cell::Whole(n) => Some(n.to_string()),
                Cell::Number(x) => Some(x.to_string()),
                Cell::Day(d) => Some(d.to_string()),
                Cell::Empty => None,
            }))),
        ),
        Show::Count => (
            DataType::Int64,
            Arc::new(Int64Array::from_iter(cells().map(|c| match c {
                Cell::Whole(n) => Some(*n),
                _ => None,
            }))),
        ),
        Show::Day => (
            DataType::Date32,
            Arc::new(Date32Array::from_iter(cells().map(|c| match c {
                Cell::Day(d) => Some(d.0),
                _ => None,
            }))),
        ),
        Show::Quantity | Show::Percent | Show::PValue => (
            DataType::Float64,
            Arc::new(Float64Array::from_iter(cells().map(|c| match c {
                Cell::Number(x) => Some(*x),
                Cell::Whole(n) => Some(*n as f64),
                _ => None,
            }))),
        ),
    };
    (Field::new(heading.id.clone(), kind, true), array)
}
