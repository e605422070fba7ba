//! Rows of a small query result, read by column name; what is not as the statement promises becomes a problem.

use arrow::array::{
    Array, ArrayRef, BooleanArray, Date32Array, Float64Array, Int64Array, StringArray, UInt64Array,
};
use arrow::compute::take_record_batch;
use arrow::record_batch::RecordBatch;

use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};

/// A query result whose columns are found by name.
pub struct Table<'a> {
    batch: &'a RecordBatch,
}

impl<'a> Table<'a> {
    /// Reads `batch`.
    pub fn new(batch: &'a RecordBatch) -> Self {
        Self { batch }
    }

    /// How many rows it has.
    pub fn len(&self) -> usize {
        self.batch.num_rows()
    }

    /// Whether it has none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Some of its rows, by position.
    pub fn rows(&self, positions: &[usize]) -> Result<RecordBatch> {
        let positions = positions
            .iter()
            .map(|p| u64::try_from(*p).unwrap_or(u64::MAX));
        let positions = UInt64Array::from_iter_values(positions);
        take_record_batch(self.batch, &positions)
            .map_err(|e| Problem::data(format!("could not take rows of a result: {e}")))
    }

    fn array(&self, name: &str) -> Result<&'a ArrayRef> {
        self.batch
            .column_by_name(name)
            .ok_or_else(|| Problem::data("the query's result lacks a column").field(name))
    }

    fn typed<T: Array + 'static>(&self, name: &str) -> Result<&'a T> {
        self.array(name)?
            .as_any()
            .downcast_ref::<T>()
            .ok_or_else(|| {
                Problem::data("a column of the query's result has another type").field(name)
            })
    }

    /// A column of whole numbers.
    pub fn whole(&self, name: &str) -> Result<Vec<Option<i64>>> {
        if self.all_null(name)? {
            return Ok(vec![None; self.len()]);
        }
        Ok(self.typed::<Int64Array>(name)?.iter().collect())
    }

    /// A column of whole numbers without unknown values; unknown counts as 0.
    pub fn count(&self, name: &str) -> Result<Vec<i64>> {
        if self.all_null(name)? {
            return Ok(vec![0; self.len()]);
        }
        let column = self.typed::<Int64Array>(name)?;
        Ok(match column.null_count() {
            0 => column.values().to_vec(),
            _ => column.iter().map(|v| v.unwrap_or(0)).collect(),
        })
    }

    /// A column of numbers.
    pub fn number(&self, name: &str) -> Result<Vec<Option<f64>>> {
        if self.all_null(name)? {
            return Ok(vec![None; self.len()]);
        }
        Ok(self.typed::<Float64Array>(name)?.iter().collect())
    }

    /// A column of text.
    pub fn text(&self, name: &str) -> Result<Vec<Option<String>>> {
        if self.all_null(name)? {
            return Ok(vec![None; self.len()]);
        }
        Ok(self
            .typed::<StringArray>(name)?
            .iter()
            .map(|v| v.map(str::to_owned))
            .collect())
    }

    /// A column of text, not copied.
    pub fn words(&self, name: &str) -> Result<Vec<Option<&'a str>>> {
        if self.all_null(name)? {
            return Ok(vec![None; self.len()]);
        }
        Ok(self.typed::<StringArray>(name)?.iter().collect())
    }

    /// A column of numbers that stand for names, such as vehicles, written out.
    pub fn names(&self, name: &str) -> Result<Vec<Option<String>>> {
        let numbers = self.whole(name)?.into_iter();
        Ok(numbers.map(|n| n.map(|n| n.to_string())).collect())
    }

    /// A column of days.
    pub fn day(&self, name: &str) -> Result<Vec<Option<Day>>> {
        if self.all_null(name)? {
            return Ok(vec![None; self.len()]);
        }
        Ok(self
            .typed::<Date32Array>(name)?
            .iter()
            .map(|v| v.map(Day))
            .collect())
    }

    /// A column of flags.
    pub fn flag(&self, name: &str) -> Result<Vec<Option<bool>>> {
        if self.all_null(name)? {
            return Ok(vec![None; self.len()]);
        }
        Ok(self.typed::<BooleanArray>(name)?.iter().collect())
    }

    /// A column without any value may come back as text; its type says nothing then.
    fn all_null(&self, name: &str) -> Result<bool> {
        let array = self.array(name)?;
        Ok(array.null_count() == array.len())
    }
}
