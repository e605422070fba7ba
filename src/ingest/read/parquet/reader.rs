//! Reads a Parquet file row by row.

use std::path::Path;
use std::sync::Arc;

use ::parquet::arrow::ProjectionMask;
use ::parquet::arrow::arrow_reader::{ParquetRecordBatchReader, ParquetRecordBatchReaderBuilder};
use arrow::array::{
    Array, ArrayRef, AsArray, BinaryArray, BooleanArray, Date32Array, Float32Array, Float64Array,
    Int64Array, StringArray, UInt64Array,
};
use arrow::compute::cast;
use arrow::datatypes::{
    DataType, Date32Type, Float32Type, Float64Type, Int64Type, TimeUnit, UInt64Type,
};
use arrow::record_batch::RecordBatch;

use super::super::foreign::guard;
use super::super::reader::{Damage, DamageReason, Progress, ReadOutcome, RecordReader, visible};
use super::super::record::{CellKind, Header, RawRecord};
use super::super::source::{Meter, open_file};
use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};

/// Rows decoded at a time.
const BATCH: usize = 4096;

/// Reader of a Parquet file.
pub struct ParquetReader {
    path: std::path::PathBuf,
    batches: ParquetRecordBatchReader,
    columns: Vec<Column>,
    header: Header,
    rows_in_file: u64,
    /// Row of the file that comes next, from 0.
    row: u64,
    in_batch: usize,
    batch_rows: usize,
    meter: Meter,
    notes: Vec<String>,
}

/// One column of the batch in hand, brought to one of few types.
enum Column {
    Nothing,
    Text(StringArray),
    Bytes(BinaryArray),
    Whole(Int64Array),
    Natural(UInt64Array),
    Single(Float32Array),
    Double(Float64Array),
    Decimal(StringArray),
    Day(Date32Array),
    Flag(BooleanArray),
}

impl ParquetReader {
    /// Opens a Parquet file.
    ///
    /// # Errors
    /// The file cannot be opened, or its footer is damaged.
    pub fn open(path: &Path) -> Result<Self> {
        guard(path, || Self::begin(path))
    }

    fn begin(path: &Path) -> Result<Self> {
        let (file, total) = open_file(path)?;
        let broken = |e: ::parquet::errors::ParquetError| broken(path, &e);
        let builder = ParquetRecordBatchReaderBuilder::try_new(file).map_err(broken)?;
        let (mut names, mut roots, mut notes) = (Vec::new(), Vec::new(), Vec::new());
        for (i, field) in builder.schema().fields().iter().enumerate() {
            if is_flat(field.data_type()) {
                names.push(field.name().clone());
                roots.push(i);
            } else {
                notes.push(format!(
                    "column {:?} holds lists or structures and is not read",
                    field.name()
                ));
            }
        }
        let mask = ProjectionMask::roots(builder.parquet_schema(), roots);
        let rows_in_file =
            u64::try_from(builder.metadata().file_metadata().num_rows()).unwrap_or(0);
        if rows_in_file == 0 {
            notes.push("the file has column names but no record".to_string());
        }
        let batches = builder
            .with_projection(mask)
            .with_batch_size(BATCH)
            .build()
            .map_err(broken)?;
        Ok(Self {
            path: path.to_path_buf(),
            batches,
            columns: Vec::new(),
            header: Header::new(names, false),
            rows_in_file,
            row: 0,
            in_batch: 0,
            batch_rows: 0,
            meter: Meter::new(total),
            notes,
        })
    }

    /// Brings the next batch; `false` at the end.
    fn advance(&mut self) -> Result<bool> {
        let decoded = guard(&self.path, || {
            let Some(batch) = self.batches.next() else {
                return Ok(None);
            };
            let batch: RecordBatch = batch.map_err(|e| broken(&self.path, &e))?;
            let columns = batch.columns().iter().map(simplify);
            let columns: std::result::Result<Vec<Column>, _> = columns.collect();
            let columns = columns.map_err(|e| broken(&self.path, &e))?;
            Ok(Some((batch.num_rows(), columns)))
        });
        let Some((rows, columns)) = decoded.map_err(|problem| problem.line(self.row + 1))? else {
            self.meter.set(u64::MAX);
            return Ok(false);
        };
        self.columns = columns;
        self.batch_rows = rows;
        self.in_batch = 0;
        let total = self.meter.progress().total as f64;
        let share = self.row as f64 / self.rows_in_file.max(1) as f64;
        self.meter.set((total * share) as u64);
        Ok(true)
    }
}

fn broken(path: &Path, e: &dyn std::fmt::Display) -> Problem {
    Problem::data(format!("the Parquet file cannot be read: {e}"))
        .file(path)
        .remedy("it was cut off or damaged on its way: copy or export it again")
}

fn is_flat(of: &DataType) -> bool {
    match of {
        DataType::Dictionary(_, values) => is_flat(values),
        DataType::RunEndEncoded(..) => false,
        other => !other.is_nested(),
    }
}

fn simplify(array: &ArrayRef) -> std::result::Result<Column, arrow::error::ArrowError> {
    use DataType as T;
    let to = |target: &T| cast(array, target);
    Ok(match array.data_type() {
        T::Null => Column::Nothing,
        T::Boolean => Column::Flag(array.as_boolean().clone()),
        T::Int8 | T::Int16 | T::Int32 | T::Int64 => {
            Column::Whole(to(&T::Int64)?.as_primitive::<Int64Type>().clone())
        }
        T::UInt8 | T::UInt16 | T::UInt32 | T::UInt64 => {
            Column::Natural(to(&T::UInt64)?.as_primitive::<UInt64Type>().clone())
        }
        T::Float16 | T::Float32 => {
            Column::Single(to(&T::Float32)?.as_primitive::<Float32Type>().clone())
        }
        T::Float64 => Column::Double(array.as_primitive::<Float64Type>().clone()),
        T::Decimal32(..) | T::Decimal64(..) | T::Decimal128(..) | T::Decimal256(..) => {
            Column::Decimal(to(&T::Utf8)?.as_string::<i32>().clone())
        }
        T::Date32 | T::Date64 => Column::Day(to_days(array)?),
        T::Timestamp(unit, zone) => {
            let named = zone.as_ref().is_some_and(|z| !z.starts_with(['+', '-']));
            let moment = if named {
                as_utc(array, *unit)?
            } else {
                array.clone()
            };
            Column::Day(to_days(&moment)?)
        }
        T::Binary | T::LargeBinary | T::BinaryView | T::FixedSizeBinary(_) => {
            Column::Bytes(to(&T::Binary)?.as_binary::<i32>().clone())
        }
        T::Dictionary(_, values) => return simplify(&to(values)?),
        // Text, and times, durations and intervals, which become text.
        _ => Column::Text(to(&T::Utf8)?.as_string::<i32>().clone()),
    })
}

fn to_days(array: &ArrayRef) -> std::result::Result<Date32Array, arrow::error::ArrowError> {
    let days = cast(array, &DataType::Date32)?;
    Ok(days.as_primitive::<Date32Type>().clone())
}

/// The same moments without their named zone, which leaves them in UTC.
fn as_utc(
    array: &ArrayRef,
    unit: TimeUnit,
) -> std::result::Result<ArrayRef, arrow::error::ArrowError> {
    let data = array
        .to_data()
        .into_builder()
        .data_type(DataType::Timestamp(unit, Some(Arc::from("+00:00"))))
        .build()?;
    Ok(arrow::array::make_array(data))
}

impl Column {
    /// Adds the cell of a row; `Err` with the bytes that are no text.
    fn push(&self, row: usize, record: &mut RawRecord) -> std::result::Result<(), String> {
        if self.is_null(row) {
            record.push(CellKind::Empty, "");
            return Ok(());
        }
        match self {
            Self::Nothing => record.push(CellKind::Empty, ""),
            Self::Text(a) => record.push(CellKind::Text, a.value(row)),
            Self::Bytes(a) => match std::str::from_utf8(a.value(row)) {
                Ok(text) => record.push(CellKind::Text, text),
                Err(_) => return Err(visible(a.value(row))),
            },
            Self::Whole(a) => record.push_display(CellKind::Number, a.value(row)),
            Self::Natural(a) => record.push_display(CellKind::Number, a.value(row)),
            Self::Single(a) => {
                let value = a.value(row);
                if value.is_finite() {
                    // By its own shortest decimal: 0.1 stays 0.1.
                    record.push_display(CellKind::Number, value + 0.0);
                } else {
                    record.push_float(f64::from(value));
                }
            }
            Self::Double(a) => record.push_float(a.value(row)),
            Self::Decimal(a) => {
                let text = a.value(row);
                let short = if text.contains('.') {
                    text.trim_end_matches('0').trim_end_matches('.')
                } else {
                    text
                };
                record.push(CellKind::Number, short);
            }
            Self::Day(a) => record.push_display(CellKind::Day, Day(a.value(row))),
            Self::Flag(a) => {
                let text = if a.value(row) { "true" } else { "false" };
                record.push(CellKind::Flag, text);
            }
        }
        Ok(())
    }

    fn is_null(&self, row: usize) -> bool {
        match self {
            Self::Nothing => true,
            Self::Text(a) | Self::Decimal(a) => a.is_null(row),
            Self::Bytes(a) => a.is_null(row),
            Self::Whole(a) => a.is_null(row),
            Self::Natural(a) => a.is_null(row),
            Self::Single(a) => a.is_null(row),
            Self::Double(a) => a.is_null(row),
            Self::Day(a) => a.is_null(row),
            Self::Flag(a) => a.is_null(row),
        }
    }
}

impl RecordReader for ParquetReader {
    fn header(&self) -> &Header {
        &self.header
    }

    fn read(&mut self, record: &mut RawRecord) -> Result<ReadOutcome> {
        while self.in_batch >= self.batch_rows {
            if !self.advance()? {
                return Ok(ReadOutcome::End);
            }
        }
        let row = self.in_batch;
        self.in_batch += 1;
        self.row += 1;
        record.begin(self.row);
        let mut damaged = None;
        for (i, column) in self.columns.iter().enumerate() {
            if let Err(bytes) = column.push(row, record) {
                record.push(CellKind::Error, &bytes);
                damaged.get_or_insert(i);
            }
        }
        let Some(column) = damaged else {
            return Ok(ReadOutcome::Record);
        };
        let name = self.header.names().get(column).map_or("", String::as_str);
        Ok(ReadOutcome::Damaged(Damage {
            line: self.row,
            reason: DamageReason::UndecodableBytes,
            detail: format!("the bytes of column {name:?} are no text in utf-8"),
            raw: record.raw().into_owned(),
        }))
    }

    fn progress(&self) -> Progress {
        self.meter.progress()
    }

    fn notes(&self) -> &[String] {
        &self.notes
    }
}
