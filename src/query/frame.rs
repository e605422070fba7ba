//! Between Arrow and the embedded engine's own frames: one copy, column by column, in the five widths of our contract.
//!
//! Results are small by design (a tally, not the data), so one plain copy costs nothing and ties us to no memory layout.

use std::sync::Arc;

use arrow::array::{
    Array, ArrayRef, BooleanArray, Date32Array, Float64Array, Int64Array, StringArray,
};
use arrow::datatypes::{DataType as ArrowType, Field, Schema as ArrowSchema};
use arrow::record_batch::RecordBatch;
use polars::prelude::{Column, DataFrame, DataType, IntoColumn, NamedFrom, Schema, Series};

use crate::domain::problem::{Problem, Result};

/// The engine's type for a column of one of our five widths.
fn engine_type(field: &Field) -> Result<DataType> {
    match field.data_type() {
        ArrowType::Int64 => Ok(DataType::Int64),
        ArrowType::Float64 => Ok(DataType::Float64),
        ArrowType::Utf8 => Ok(DataType::String),
        ArrowType::Date32 => Ok(DataType::Date),
        ArrowType::Boolean => Ok(DataType::Boolean),
        other => Err(
            Problem::data(format!("tables of type {other} are not supported")).field(field.name()),
        ),
    }
}

/// The engine's schema for one of our tables.
pub fn engine_schema(schema: &ArrowSchema) -> Result<Schema> {
    let mut out = Schema::with_capacity(schema.fields().len());
    for field in schema.fields() {
        out.with_column(field.name().as_str().into(), engine_type(field)?);
    }
    Ok(out)
}

/// Copies a batch of our five widths into a frame.
pub fn to_frame(batch: &RecordBatch) -> Result<DataFrame> {
    let schema = batch.schema();
    let mut columns = Vec::with_capacity(batch.num_columns());
    for (field, array) in schema.fields().iter().zip(batch.columns()) {
        columns.push(to_column(field, array)?);
    }
    DataFrame::new(batch.num_rows(), columns)
        .map_err(|e| Problem::data(format!("could not hold a small table: {e}")))
}

fn to_column(field: &Field, array: &ArrayRef) -> Result<Column> {
    let name = field.name().as_str();
    let any = array.as_any();
    let series = if let Some(a) = any.downcast_ref::<Int64Array>() {
        Series::new(name.into(), a.iter().collect::<Vec<_>>())
    } else if let Some(a) = any.downcast_ref::<Float64Array>() {
        Series::new(name.into(), a.iter().collect::<Vec<_>>())
    } else if let Some(a) = any.downcast_ref::<StringArray>() {
        Series::new(name.into(), a.iter().collect::<Vec<_>>())
    } else if let Some(a) = any.downcast_ref::<BooleanArray>() {
        Series::new(name.into(), a.iter().collect::<Vec<_>>())
    } else if let Some(a) = any.downcast_ref::<Date32Array>() {
        let days = Series::new(name.into(), a.iter().collect::<Vec<_>>());
        days.cast(&DataType::Date).map_err(|e| copying(name, &e))?
    } else {
        engine_type(field)?;
        return Err(Problem::data("column is not what its schema says").field(name));
    };
    Ok(series.into_column())
}

/// Copies a frame into a batch of our five widths: every whole-number width becomes Int64, every float Float64,
/// text Utf8 (a column of untyped NULLs too), days Date32, flags Boolean. Columns keep their order and names.
pub fn to_batch(frame: &DataFrame) -> Result<RecordBatch> {
    let mut fields = Vec::with_capacity(frame.width());
    let mut arrays: Vec<ArrayRef> = Vec::with_capacity(frame.width());
    for column in frame.columns() {
        let array = to_array(column.as_materialized_series())?;
        fields.push(Field::new(
            column.name().as_str(),
            array.data_type().clone(),
            true,
        ));
        arrays.push(array);
    }
    let options =
        arrow::record_batch::RecordBatchOptions::new().with_row_count(Some(frame.height()));
    RecordBatch::try_new_with_options(Arc::new(ArrowSchema::new(fields)), arrays, &options)
        .map_err(|e| Problem::data(format!("could not hold a query's result: {e}")))
}

fn to_array(series: &Series) -> Result<ArrayRef> {
    let name = series.name().as_str();
    let e = |e: polars::prelude::PolarsError| copying(name, &e);
    let array: ArrayRef = match series.dtype() {
        DataType::Boolean => {
            let flags = series.bool().map_err(e)?;
            Arc::new(flags.iter().collect::<BooleanArray>())
        }
        DataType::String => {
            let text = series.str().map_err(e)?;
            Arc::new(text.iter().collect::<StringArray>())
        }
        DataType::Date => {
            let days = series.cast(&DataType::Int32).map_err(e)?;
            let days = days.i32().map_err(e)?;
            Arc::new(days.iter().collect::<Date32Array>())
        }
        DataType::Null => Arc::new(StringArray::new_null(series.len())),
        t if t.is_integer() => {
            let whole = series.strict_cast(&DataType::Int64).map_err(e)?;
            let whole = whole.i64().map_err(e)?;
            Arc::new(whole.iter().collect::<Int64Array>())
        }
        t if t.is_float() => {
            let number = series.strict_cast(&DataType::Float64).map_err(e)?;
            let number = number.f64().map_err(e)?;
            Arc::new(number.iter().collect::<Float64Array>())
        }
        other => {
            return Err(Problem::data(format!(
                "a result column of type {other} is not in the contract"
            ))
            .field(name)
            .remedy("cast it in the statement to BIGINT, DOUBLE, VARCHAR, DATE or BOOLEAN"));
        }
    };
    Ok(array)
}

fn copying(name: &str, error: &dyn std::fmt::Display) -> Problem {
    Problem::data(format!("could not copy a column: {error}")).field(name)
}
