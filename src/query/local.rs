//! The embedded engine: polars SQL, streaming over Parquet, so that memory is bounded by the tally and not by the data.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use arrow::datatypes::SchemaRef;
use arrow::record_batch::RecordBatch;
use parquet::file::reader::{FileReader, SerializedFileReader};
use polars::io::parquet::write::StatisticsOptions;
use polars::prelude::{
    DataFrame, Engine as Mode, FileWriteFormat, IntoLazy, LazyFrame, ParquetCompression,
    ParquetWriteOptions, PlRefPath, ScanArgsParquet, SinkDestination, SinkTarget, UnifiedSinkArgs,
};
use polars::sql::SQLContext;

use super::engine::{Engine, Purpose, Rows};
use super::frame::{engine_schema, to_batch, to_frame};
use crate::domain::problem::{AtFile, Problem, Result};

/// Rows of one row group in files the engine writes: large enough to compress, and small enough that who wants some vehicles of a
/// file in their order reads few of the others.
const ROW_GROUP: usize = 32 * 1024;

/// Rows of the largest result that is kept for the next time.
const LARGEST_KEPT: usize = 50_000;

/// Runs SQL inside this process.
///
/// Small results are kept as long as the tables they were read from stay: the pages of a report, and a question under other
/// rules, ask for the same exposure many times.
#[derive(Default)]
pub struct Local {
    tables: BTreeMap<String, LazyFrame>,
    files: BTreeMap<String, Vec<PathBuf>>,
    answers: BTreeMap<String, RecordBatch>,
}

impl Local {
    /// An engine that knows no table yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Drops the results that were read from a table, unless it is given the same files again (a file never changes once
    /// it is in its place).
    fn forget(&mut self, name: &str, rows: &Rows) {
        let files = match rows {
            Rows::Parquet { files, .. } => files.clone(),
            Rows::Memory(_) => Vec::new(),
        };
        if !files.is_empty() && self.files.get(name) == Some(&files) {
            return;
        }
        self.files.insert(name.to_string(), files);
        self.answers.retain(|sql, _| !names(sql, name));
    }

    /// A fresh context for each statement: polars keeps the alias of a subquery as a table in its context, so that a
    /// statement could change what the next one reads.
    fn plan(&self, sql: &str) -> Result<LazyFrame> {
        let mut context = SQLContext::new();
        for (name, frame) in &self.tables {
            context.register(name, frame.clone());
        }
        guarded(|| context.execute(sql))
    }
}

impl Engine for Local {
    fn register(&mut self, name: &str, rows: Rows) -> Result<()> {
        self.forget(name, &rows);
        let frame = match rows {
            Rows::Memory(batch) => to_frame(&batch)?.lazy(),
            Rows::Parquet { files, schema } if files.is_empty() => {
                DataFrame::empty_with_schema(&engine_schema(&schema)?).lazy()
            }
            Rows::Parquet { files, schema } => scan(&files, &schema)?,
        };
        self.tables.insert(name.to_string(), frame);
        Ok(())
    }

    fn query(&mut self, sql: &str) -> Result<RecordBatch> {
        if let Some(answer) = self.answers.get(sql) {
            return Ok(answer.clone());
        }
        let plan = self.plan(sql)?;
        let frame = guarded(|| plan.collect_with_engine(Mode::Streaming))?;
        let answer = to_batch(&frame.unwrap_single())?;
        if answer.num_rows() <= LARGEST_KEPT {
            self.answers.insert(sql.to_owned(), answer.clone());
        }
        Ok(answer)
    }

    fn write(&mut self, sql: &str, file: &Path, purpose: Purpose) -> Result<u64> {
        // Named after the process: two may build the same file at once, and each must rename what it wrote itself.
        let unfinished = file.with_extension(format!("{}.unfinished", std::process::id()));
        let result = self.sink(sql, &unfinished, purpose);
        if result.is_err() {
            // The error is what matters; a leftover beside the target is overwritten by the next run.
            let _ = std::fs::remove_file(&unfinished);
        }
        let rows = result?;
        std::fs::rename(&unfinished, file).at_file("put the result in its place", file)?;
        Ok(rows)
    }
}

impl Local {
    fn sink(&self, sql: &str, file: &Path, purpose: Purpose) -> Result<u64> {
        let options = ParquetWriteOptions {
            compression: match purpose {
                // Read often, and deleted when the records change: quick to read counts for more than small.
                Purpose::Kept => ParquetCompression::Lz4Raw,
                // Seldom leaves the system's memory.
                Purpose::Passing => ParquetCompression::Uncompressed,
            },
            // Least and greatest: who reads some vehicles passes over row groups of others.
            statistics: StatisticsOptions::default(),
            row_group_size: Some(ROW_GROUP),
            ..Default::default()
        };
        let target = SinkDestination::File {
            target: SinkTarget::Path(path(file)?),
        };
        let plan = self.plan(sql)?;
        guarded(|| {
            plan.sink(
                target,
                FileWriteFormat::Parquet(Arc::new(options)),
                UnifiedSinkArgs::default(),
            )?
            .collect_with_engine(Mode::Streaming)
        })?;
        let opened = std::fs::File::open(file).at_file("read back the result", file)?;
        let reader = SerializedFileReader::new(opened).at_file("read back the result", file)?;
        Ok(u64::try_from(reader.metadata().file_metadata().num_rows()).unwrap_or(0))
    }
}

/// Whether a statement has this name in it as a whole word.
fn names(sql: &str, name: &str) -> bool {
    sql.split(|c: char| !(c.is_ascii_alphanumeric() || c == '_'))
        .any(|word| word == name)
}

fn path(file: &Path) -> Result<PlRefPath> {
    PlRefPath::try_from_path(file).at_file("use this path", file)
}

fn scan(files: &[PathBuf], schema: &SchemaRef) -> Result<LazyFrame> {
    let paths = files.iter().map(|f| path(f)).collect::<Result<Vec<_>>>()?;
    let arguments = ScanArgsParquet {
        schema: Some(Arc::new(engine_schema(schema)?)),
        glob: false,
        ..Default::default()
    };
    LazyFrame::scan_parquet_files(paths.into(), arguments).map_err(engine_problem)
}

fn engine_problem(error: impl std::fmt::Display) -> Problem {
    Problem::data(format!("the query engine refused: {error}"))
}

/// Stack of the thread that plans a statement; polars descends once for every step of a plan, and long statements need
/// more than the 2 MiB a thread of a test or a server has. Only what is touched takes memory.
const PLANNING_STACK: usize = 64 << 20;

/// Runs a step of the engine on a deep stack; a panic inside it becomes a problem like any other failure.
fn guarded<T: Send>(step: impl FnOnce() -> polars::prelude::PolarsResult<T> + Send) -> Result<T> {
    let outcome = std::thread::scope(|scope| {
        std::thread::Builder::new()
            .name("query".into())
            .stack_size(PLANNING_STACK)
            .spawn_scoped(scope, step)
            .map(|thread| thread.join())
    });
    match outcome {
        Ok(Ok(result)) => result.map_err(engine_problem),
        Ok(Err(payload)) => Err(Problem::stopped_inside(
            "the query engine",
            payload.as_ref(),
        )),
        Err(error) => Err(engine_problem(format!(
            "no thread could be started for it: {error}"
        ))),
    }
}

#[cfg(test)]
mod tests {
    use arrow::array::{
        Array, ArrayRef, AsArray, BooleanArray, Date32Array, Float64Array, Int64Array, StringArray,
    };
    use arrow::datatypes::{DataType, Int64Type};

    use super::*;

    fn sample() -> RecordBatch {
        let columns: [(&str, ArrayRef); 5] = [
            (
                "name",
                Arc::new(StringArray::from(vec![Some("a"), None, Some("ü'")])),
            ),
            (
                "whole",
                Arc::new(Int64Array::from(vec![Some(i64::MAX), None, Some(i64::MIN)])),
            ),
            (
                "number",
                Arc::new(Float64Array::from(vec![Some(0.1), None, Some(-2.5)])),
            ),
            (
                "day",
                Arc::new(Date32Array::from(vec![Some(19000), None, Some(-3)])),
            ),
            (
                "flag",
                Arc::new(BooleanArray::from(vec![Some(true), None, Some(false)])),
            ),
        ];
        RecordBatch::try_from_iter_with_nullable(columns.map(|(n, a)| (n, a, true))).unwrap()
    }

    fn engine() -> Local {
        let mut engine = Local::new();
        engine.register("t", Rows::Memory(sample())).unwrap();
        engine
    }

    #[test]
    fn rows_come_back_as_they_went_in() {
        let mut engine = engine();
        assert_eq!(engine.query("SELECT * FROM t").unwrap(), sample());

        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("t.parquet");
        assert_eq!(
            engine
                .write("SELECT * FROM t", &file, Purpose::Kept)
                .unwrap(),
            3
        );
        let rows = Rows::Parquet {
            files: vec![file.clone(), file],
            schema: sample().schema(),
        };
        engine.register("u", rows).unwrap();
        let twice = engine.query("SELECT * FROM u").unwrap();
        assert_eq!(twice.slice(3, 3), sample());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn no_file_is_an_empty_table_of_its_schema() {
        let mut engine = Local::new();
        let rows = Rows::Parquet {
            files: vec![],
            schema: sample().schema(),
        };
        engine.register("t", rows).unwrap();
        let all = engine.query("SELECT * FROM t").unwrap();
        assert_eq!((all.num_rows(), all.schema()), (0, sample().schema()));
        let n = engine.query("SELECT COUNT(*) AS n FROM t").unwrap();
        assert_eq!(n.column(0).as_primitive::<Int64Type>().value(0), 0);
        assert_eq!(n.column(0).data_type(), &DataType::Int64);
    }

    #[test]
    fn a_statement_leaves_nothing_behind_for_the_next() {
        let mut engine = engine();
        let sql = "SELECT t.name FROM (SELECT name FROM t WHERE whole > 0) AS t ORDER BY t.name";
        assert_eq!(engine.query(sql).unwrap().num_rows(), 1);
        assert_eq!(engine.query("SELECT * FROM t").unwrap().num_rows(), 3);
    }

    #[test]
    fn a_kept_result_goes_when_its_table_changes() {
        let mut engine = engine();
        engine.register("u", Rows::Memory(sample())).unwrap();
        let count = "SELECT COUNT(*) AS n FROM t";
        let n = |engine: &mut Local| {
            let answer = engine.query(count).unwrap();
            answer.column(0).as_primitive::<Int64Type>().value(0)
        };
        assert_eq!(n(&mut engine), 3);
        engine.query("SELECT name FROM u ORDER BY name").unwrap();
        engine
            .register("t", Rows::Memory(sample().slice(0, 1)))
            .unwrap();
        assert_eq!(n(&mut engine), 1);
        // The other table's result is still there, and files that stay the same keep theirs.
        assert_eq!(engine.answers.len(), 2);
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("t.parquet");
        engine
            .write("SELECT * FROM u", &file, Purpose::Kept)
            .unwrap();
        let rows = || Rows::Parquet {
            files: vec![file.clone()],
            schema: sample().schema(),
        };
        engine.register("t", rows()).unwrap();
        assert_eq!(n(&mut engine), 3);
        engine.register("t", rows()).unwrap();
        assert_eq!(engine.answers.len(), 2);
    }

    #[test]
    fn days_compare_with_bound_days() {
        use crate::domain::day::Day;
        use crate::query::literal::Value;
        let sql = crate::query::template::expand(
            "SELECT name FROM t WHERE day >= :from AND name NOT IN (:none) OR whole = :least",
            &[
                ("from", Value::Day(Day(19000))),
                ("none", Value::Texts(vec!["x".into()])),
                ("least", Value::Int(i64::MIN)),
            ],
        );
        assert_eq!(engine().query(&sql.unwrap()).unwrap().num_rows(), 2);
    }

    #[test]
    fn a_wrong_statement_is_a_problem() {
        assert!(engine().query("SELECT nothing FROM t").is_err());
        assert!(engine().query("SELECT * FROM nowhere").is_err());
        assert!(engine().query("SELEC").is_err());
        assert!(engine().query("SELECT day - day AS d FROM t").is_err());
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("t.parquet");
        assert!(
            engine()
                .write("SELECT nothing FROM t", &file, Purpose::Kept)
                .is_err()
        );
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
