//! Writes down what is asked of an engine: every table, every bound statement, how long it took and what came back.
//!
//! For contributors: the log shows which statement an answer waits for, and lets another program run exactly the same work.
//! One JSON object a line: `{"register": name, "files": [...], "columns": [...], "types": [...]}` for a table in files, `{"register":
//! name, "columns": [...], "rows": [[...]]}` for one in memory, `{"query": sql, "seconds": s, "columns": [...], "rows": [[...]]}` for a
//! result, `{"write": sql, "file": ..., "kept": false, "seconds": s, "rows": n}` for a file. Days are text, like `2024-06-30`.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::time::Instant;

use arrow::array::{Array, AsArray};
use arrow::datatypes::{DataType, Date32Type, Float64Type, Int64Type};
use arrow::record_batch::RecordBatch;
use serde_json::{Value, json};

use super::engine::{Engine, Purpose, Rows};
use crate::domain::problem::{AtFile, Problem, Result};

/// Names the file of the log; without it nothing is logged.
pub const VARIABLE: &str = "BORETALLY_STATEMENT_LOG";

/// An engine with a log.
pub struct Logged {
    engine: Box<dyn Engine>,
    file: PathBuf,
    log: BufWriter<File>,
}

impl Logged {
    /// Logs to a file, which is made anew.
    pub fn new(engine: Box<dyn Engine>, file: &Path) -> Result<Self> {
        Ok(Self {
            engine,
            file: file.to_path_buf(),
            log: BufWriter::new(File::create(file).at_file("write the log of statements", file)?),
        })
    }

    /// The same engine, with a log if [`VARIABLE`] asks for one.
    pub fn if_wanted(engine: Box<dyn Engine>) -> Result<Box<dyn Engine>> {
        Ok(match std::env::var_os(VARIABLE) {
            Some(file) if !file.is_empty() => Box::new(Self::new(engine, Path::new(&file))?),
            _ => engine,
        })
    }

    fn put(&mut self, line: &Value) -> Result<()> {
        writeln!(self.log, "{line}")
            .and_then(|()| self.log.flush())
            .at_file("write the log of statements", &self.file)
    }
}

impl Engine for Logged {
    fn register(&mut self, name: &str, rows: Rows) -> Result<()> {
        let line = match &rows {
            Rows::Parquet { files, schema } => {
                let columns: Vec<&String> = schema.fields().iter().map(|f| f.name()).collect();
                let types = schema.fields().iter().map(|f| f.data_type().to_string());
                let types: Vec<String> = types.collect();
                json!({"register": name, "files": files, "columns": columns, "types": types})
            }
            Rows::Memory(batch) => {
                json!({"register": name, "columns": columns(batch), "rows": values(batch)?})
            }
        };
        self.engine.register(name, rows)?;
        self.put(&line)
    }

    fn query(&mut self, sql: &str) -> Result<RecordBatch> {
        let begin = Instant::now();
        let answer = self.engine.query(sql)?;
        let seconds = begin.elapsed().as_secs_f64();
        let (columns, rows) = (columns(&answer), values(&answer)?);
        self.put(&json!({"query": sql, "seconds": seconds, "columns": columns, "rows": rows}))?;
        Ok(answer)
    }

    fn write(&mut self, sql: &str, file: &Path, purpose: Purpose) -> Result<u64> {
        let begin = Instant::now();
        let rows = self.engine.write(sql, file, purpose)?;
        let seconds = begin.elapsed().as_secs_f64();
        let kept = purpose == Purpose::Kept;
        self.put(
            &json!({"write": sql, "file": file, "kept": kept, "seconds": seconds, "rows": rows}),
        )?;
        Ok(rows)
    }
}

fn columns(batch: &RecordBatch) -> Vec<String> {
    let schema = batch.schema();
    schema.fields().iter().map(|f| f.name().clone()).collect()
}

fn values(batch: &RecordBatch) -> Result<Vec<Vec<Value>>> {
    (0..batch.num_rows())
        .map(|row| {
            batch
                .columns()
                .iter()
                .map(|c| value(c.as_ref(), row))
                .collect()
        })
        .collect()
}

fn value(column: &dyn Array, row: usize) -> Result<Value> {
    if column.is_null(row) {
        return Ok(Value::Null);
    }
    Ok(match column.data_type() {
        DataType::Int64 => json!(column.as_primitive::<Int64Type>().value(row)),
        DataType::Float64 => json!(column.as_primitive::<Float64Type>().value(row)),
        DataType::Utf8 => json!(column.as_string::<i32>().value(row)),
        DataType::Boolean => json!(column.as_boolean().value(row)),
        DataType::Date32 => {
            let day = column.as_primitive::<Date32Type>().value_as_date(row);
            json!(day.map(|d| d.to_string()))
        }
        other => {
            return Err(Problem::data(format!(
                "the log cannot show a column of type {other}"
            )));
        }
    })
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use arrow::array::{
        ArrayRef, BooleanArray, Date32Array, Float64Array, Int64Array, StringArray,
    };

    use super::*;
    use crate::query::local::Local;

    #[test]
    fn the_log_tells_what_was_asked_and_what_came_back() {
        let columns: [(&str, ArrayRef); 5] = [
            ("t", Arc::new(StringArray::from(vec![Some("a\n\""), None]))),
            ("n", Arc::new(Int64Array::from(vec![Some(7), None]))),
            ("x", Arc::new(Float64Array::from(vec![Some(0.5), None]))),
            ("d", Arc::new(Date32Array::from(vec![Some(19_904), None]))),
            ("f", Arc::new(BooleanArray::from(vec![Some(true), None]))),
        ];
        let batch =
            RecordBatch::try_from_iter_with_nullable(columns.map(|(n, a)| (n, a, true))).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let log = folder.path().join("log.jsonl");
        let mut engine = Logged::new(Box::new(Local::new()), &log).unwrap();
        engine.register("a", Rows::Memory(batch.clone())).unwrap();
        assert_eq!(engine.query("SELECT * FROM a").unwrap(), batch);
        let file = folder.path().join("a.parquet");
        assert_eq!(
            engine
                .write("SELECT n FROM a", &file, Purpose::Passing)
                .unwrap(),
            2
        );
        assert!(engine.query("SELECT nothing FROM a").is_err());

        let text = std::fs::read_to_string(log).unwrap();
        let lines: Vec<Value> = text
            .lines()
            .map(|l| serde_json::from_str(l).unwrap())
            .collect();
        let rows = json!([
            ["a\n\"", 7, 0.5, "2024-06-30", true],
            [null, null, null, null, null]
        ]);
        assert_eq!(lines.len(), 3);
        assert_eq!(
            (&lines[0]["register"], &lines[0]["rows"]),
            (&json!("a"), &rows)
        );
        assert_eq!(
            (&lines[1]["query"], &lines[1]["rows"]),
            (&json!("SELECT * FROM a"), &rows)
        );
        assert_eq!(
            (&lines[2]["file"], &lines[2]["rows"]),
            (&json!(file), &json!(2))
        );
        assert!(lines[2]["seconds"].as_f64().unwrap() >= 0.0);
    }
}
