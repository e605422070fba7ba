//! From whatever widths a server answers in to the five of our contract.

use std::sync::Arc;

use arrow::array::{ArrayRef, RecordBatchOptions};
use arrow::compute::{CastOptions, cast_with_options};
use arrow::datatypes::{DataType, Field, Schema, SchemaRef};
use arrow::record_batch::RecordBatch;

use crate::domain::problem::{Problem, Result};

/// The width a column of that type has in our contract: Int64, Float64, Utf8, Date32 or Boolean.
fn contract_type(field: &Field) -> Result<DataType> {
    let mut given = field.data_type();
    while let DataType::Dictionary(_, values) = given {
        given = values;
    }
    match given {
        t if t.is_integer() => Ok(DataType::Int64),
        t if t.is_floating() => Ok(DataType::Float64),
        // A column of untyped NULLs is text, as in the embedded engine.
        DataType::Utf8 | DataType::LargeUtf8 | DataType::Utf8View | DataType::Null => {
            Ok(DataType::Utf8)
        }
        DataType::Date32 => Ok(DataType::Date32),
        DataType::Boolean => Ok(DataType::Boolean),
        other => Err(Problem::data(format!(
            "a result column of type {other} is not in the contract"
        ))
        .field(field.name())
        .remedy("cast it in the statement to BIGINT, DOUBLE, VARCHAR, DATE or BOOLEAN")),
    }
}

/// The schema in our five widths, every column able to be unknown.
pub fn contract_schema(schema: &Schema) -> Result<SchemaRef> {
    let fields = schema.fields().iter();
    let fields: Vec<Field> = fields
        .map(|f| Ok(Field::new(f.name(), contract_type(f)?, true)))
        .collect::<Result<_>>()?;
    Ok(Arc::new(Schema::new(fields)))
}

/// Casts rows into `schema`; a value that does not fit is a problem, never unknown.
pub fn to_contract(batch: &RecordBatch, schema: &SchemaRef) -> Result<RecordBatch> {
    let strict = CastOptions {
        safe: false,
        ..Default::default()
    };
    let fields = schema.fields().iter();
    let columns: Vec<ArrayRef> = fields
        .zip(batch.columns())
        .map(|(field, column)| {
            cast_with_options(column, field.data_type(), &strict).map_err(|e| {
                Problem::data(format!("a result does not fit our widths: {e}")).field(field.name())
            })
        })
        .collect::<Result<_>>()?;
    let options = RecordBatchOptions::new().with_row_count(Some(batch.num_rows()));
    RecordBatch::try_new_with_options(schema.clone(), columns, &options)
        .map_err(|e| Problem::data(format!("could not hold a query's result: {e}")))
}

#[cfg(test)]
mod tests {
    use arrow::array::{
        Array, DictionaryArray, Float32Array, Int8Array, NullArray, StringArray, StringViewArray,
        TimestampSecondArray, UInt64Array,
    };

    use super::*;

    fn batch(columns: Vec<(&str, ArrayRef)>) -> RecordBatch {
        RecordBatch::try_from_iter(columns).unwrap()
    }

    fn cast(batch: &RecordBatch) -> Result<RecordBatch> {
        to_contract(batch, &contract_schema(&batch.schema())?)
    }

    #[test]
    fn every_width_becomes_one_of_five() {
        let dictionary: DictionaryArray<arrow::datatypes::Int32Type> =
            vec![Some("a"), None].into_iter().collect();
        let given = batch(vec![
            ("small", Arc::new(Int8Array::from(vec![Some(-1), None]))),
            ("big", Arc::new(UInt64Array::from(vec![0, i64::MAX as u64]))),
            ("short", Arc::new(Float32Array::from(vec![0.5, -0.25]))),
            (
                "view",
                Arc::new(StringViewArray::from(vec![
                    "x",
                    "a longer text than fits inline",
                ])),
            ),
            ("dictionary", Arc::new(dictionary)),
            ("nothing", Arc::new(NullArray::new(2))),
        ]);
        let out = cast(&given).unwrap();
        let types: Vec<_> = out
            .schema()
            .fields()
            .iter()
            .map(|f| f.data_type().clone())
            .collect();
        use DataType::{Float64, Int64, Utf8};
        assert_eq!(types, [Int64, Int64, Float64, Utf8, Utf8, Utf8]);
        let text = out
            .column(3)
            .as_any()
            .downcast_ref::<StringArray>()
            .unwrap();
        assert_eq!(text.value(1), "a longer text than fits inline");
        assert!(out.column(4).is_null(1) && out.column(5).null_count() == 2);
    }

    #[test]
    fn what_does_not_fit_is_a_problem() {
        let big: ArrayRef = Arc::new(UInt64Array::from(vec![u64::MAX]));
        assert!(cast(&batch(vec![("big", big)])).is_err());
        let time: ArrayRef = Arc::new(TimestampSecondArray::from(vec![1]));
        let problem = cast(&batch(vec![("time", time)])).unwrap_err();
        assert!(problem.to_string().contains("field time"));
    }

    #[test]
    fn rows_without_columns_keep_their_number() {
        let options = RecordBatchOptions::new().with_row_count(Some(3));
        let empty = Arc::new(Schema::empty());
        let given = RecordBatch::try_new_with_options(empty, vec![], &options).unwrap();
        assert_eq!(cast(&given).unwrap().num_rows(), 3);
    }
}
