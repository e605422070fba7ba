//! Tables of a client as external tables of a session, and statements that read them.
//!
//! Clients without a session of their own share one, so external tables bear names that no other client gives, one for each
//! file. A statement goes on reading `visits`: a first step `visits AS (SELECT ... UNION ALL ...)` is put in front of it. Nothing is
//! created before a statement reads it, since most commands read a few of the tables that are known.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;

use arrow::datatypes::SchemaRef;
use arrow::record_batch::RecordBatch;

use crate::query::engine::Rows;

/// A part of a table that becomes one external table.
#[derive(Debug, Clone, PartialEq)]
pub enum Part {
    /// A file of the store.
    File(PathBuf),
    /// Rows that are in no file yet.
    Held(RecordBatch),
}

/// One table: its parts, and what stands for them in the session.
struct Known {
    parts: Vec<Part>,
    schema: SchemaRef,
    /// Names of its external tables, one a part; none before a statement reads it.
    created: Vec<String>,
}

impl Known {
    /// A table without a file is one empty part, so that it has its columns all the same.
    fn new(rows: Rows) -> Self {
        let (parts, schema) = match rows {
            Rows::Parquet { files, schema } if files.is_empty() => {
                let none = RecordBatch::new_empty(schema.clone());
                (vec![Part::Held(none)], schema)
            }
            Rows::Parquet { files, schema } => {
                (files.into_iter().map(Part::File).collect(), schema)
            }
            Rows::Memory(batch) => {
                let schema = batch.schema();
                (vec![Part::Held(batch)], schema)
            }
        };
        Self {
            parts,
            schema,
            created: Vec::new(),
        }
    }
}

/// The tables of one client.
pub struct Tables {
    prefix: String,
    known: BTreeMap<String, Known>,
    number: u64,
}

/// An external table to be created.
#[derive(Debug, PartialEq)]
pub struct External {
    /// The table it is a part of.
    pub table: String,
    /// Its own name.
    pub name: String,
    /// What it reads.
    pub part: Part,
}

/// The statement that creates an external table over a file, given as an address. Columns are read from the file, so that one
/// the scheduler cannot see is told of here and does not pass for an empty table.
pub fn create_statement(name: &str, location: &str) -> String {
    format!("CREATE EXTERNAL TABLE {name} STORED AS PARQUET LOCATION '{location}'")
}

/// The statement that drops an external table, whether it is there or not.
pub fn drop_statement(name: &str) -> String {
    format!("DROP TABLE IF EXISTS {name}")
}

impl Tables {
    /// `prefix` must be of this client alone.
    pub fn new(prefix: &str) -> Self {
        Self {
            prefix: prefix.to_owned(),
            known: BTreeMap::new(),
            number: 0,
        }
    }

    /// Makes a table known, replacing an earlier one of that name; gives the external tables that nothing needs any more.
    ///
    /// The same parts again keep theirs: a file never changes once it is in its place.
    pub fn know(&mut self, table: &str, rows: Rows) -> Vec<String> {
        let known = Known::new(rows);
        if self
            .known
            .get(table)
            .is_some_and(|k| k.parts == known.parts)
        {
            return Vec::new();
        }
        let before = self.known.insert(table.to_owned(), known);
        before.map_or_else(Vec::new, |k| k.created)
    }

    /// The external tables that a statement needs and that are not there yet.
    pub fn missing(&mut self, sql: &str) -> Vec<External> {
        let mut missing = Vec::new();
        for table in tables_read(sql) {
            let Some(known) = self.known.get(table) else {
                continue;
            };
            for part in known.parts.iter().skip(known.created.len()) {
                missing.push(External {
                    table: table.to_owned(),
                    name: format!("{}_{}_{table}", self.prefix, self.number),
                    part: part.clone(),
                });
                self.number += 1;
            }
        }
        missing
    }

    /// Notes that an external table was created; those of one table in the order in which they were missing.
    pub fn created(&mut self, external: External) {
        if let Some(known) = self.known.get_mut(&external.table) {
            known.created.push(external.name);
        }
    }

    /// Every external table there is; afterwards none.
    pub fn forget_all(&mut self) -> Vec<String> {
        let known = self.known.values_mut();
        known.flat_map(|k| std::mem::take(&mut k.created)).collect()
    }

    /// The statement with its tables in front of it.
    pub fn told(&self, sql: &str) -> String {
        let mut steps = Vec::new();
        for table in tables_read(sql) {
            if let Some(known) = self.known.get(table) {
                let fields = known.schema.fields().iter();
                let columns: Vec<&str> = fields.map(|f| f.name().as_str()).collect();
                let columns = columns.join(", ");
                let parts = known.created.iter();
                let parts: Vec<String> = parts
                    .map(|name| format!("SELECT {columns} FROM {name}"))
                    .collect();
                steps.push(format!("{table} AS (\n{}\n)", parts.join("\nUNION ALL\n")));
            }
        }
        let sql = sql.trim_start();
        if steps.is_empty() {
            return sql.to_owned();
        }
        let mut told = format!("WITH {}", steps.join(",\n"));
        // Writing to a String cannot fail.
        let _ = match strip_with(sql) {
            Some(rest) => write!(told, ",\n{rest}"),
            None => write!(told, "\n{sql}"),
        };
        told
    }
}

/// What follows the WITH of a statement that has one.
fn strip_with(sql: &str) -> Option<&str> {
    let (word, rest) = sql.split_once(char::is_whitespace)?;
    word.eq_ignore_ascii_case("WITH").then(|| rest.trim_start())
}

/// The names that a statement reads from, each once, in the order of their first mention; its own steps are among them.
fn tables_read(sql: &str) -> Vec<&str> {
    let mut read: Vec<&str> = Vec::new();
    let mut words = sql
        .split(|c: char| !(c.is_ascii_alphanumeric() || c == '_'))
        .filter(|w| !w.is_empty());
    while let Some(word) = words.next() {
        if !(word.eq_ignore_ascii_case("FROM") || word.eq_ignore_ascii_case("JOIN")) {
            continue;
        }
        if let Some(name) = words.next()
            && !read.contains(&name)
        {
            read.push(name);
        }
    }
    read
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use arrow::datatypes::{DataType, Field, Schema};

    use super::*;

    fn files(names: &[&str]) -> Rows {
        let columns = ["a", "b"].map(|n| Field::new(n, DataType::Int64, true));
        Rows::Parquet {
            files: names.iter().map(PathBuf::from).collect(),
            schema: Arc::new(Schema::new(columns.to_vec())),
        }
    }

    fn tables() -> Tables {
        let mut tables = Tables::new("p");
        assert!(tables.know("visits", files(&["1", "2"])).is_empty());
        assert!(tables.know("cases", files(&["3"])).is_empty());
        tables
    }

    fn create(tables: &mut Tables, sql: &str) -> Vec<String> {
        let missing = tables.missing(sql);
        let told = missing.iter().map(|e| match &e.part {
            Part::File(file) => format!("{} {}", e.name, file.display()),
            Part::Held(rows) => format!("{} {} rows", e.name, rows.num_rows()),
        });
        let told = told.collect();
        missing.into_iter().for_each(|e| tables.created(e));
        told
    }

    #[test]
    fn only_what_is_read_is_created_and_only_once() {
        let mut tables = tables();
        let sql = "SELECT cases.a FROM visits AS v";
        assert_eq!(create(&mut tables, sql), ["p_0_visits 1", "p_1_visits 2"]);
        assert!(create(&mut tables, sql).is_empty());
        assert_eq!(
            tables.told(sql),
            "WITH visits AS (\nSELECT a, b FROM p_0_visits\nUNION ALL\nSELECT a, b FROM p_1_visits\n)\nSELECT cases.a FROM visits AS v"
        );
    }

    #[test]
    fn steps_of_the_statement_stay_behind_its_tables() {
        let mut tables = tables();
        let sql = "with x as (select * from cases)\nSELECT * FROM x JOIN (SELECT 1 AS one) AS y";
        assert_eq!(create(&mut tables, sql).len(), 1);
        let told = tables.told(sql);
        assert!(
            told.starts_with(
                "WITH cases AS (\nSELECT a, b FROM p_0_cases\n),\nx as (select * from cases)"
            ),
            "{told}"
        );
        assert_eq!(tables.told(" SELECT 1 AS one"), "SELECT 1 AS one");
    }

    #[test]
    fn a_table_that_is_replaced_gives_up_its_names() {
        let mut tables = tables();
        create(&mut tables, "SELECT * FROM visits JOIN cases");
        assert!(tables.know("cases", files(&["3"])).is_empty());
        assert_eq!(tables.know("cases", files(&["4"])), ["p_2_cases"]);
        // A new name: the old one may still be there if it could not be dropped.
        assert_eq!(create(&mut tables, "SELECT * FROM cases"), ["p_3_cases 4"]);
        // A table without a file has its columns all the same.
        assert_eq!(tables.know("cases", files(&[])), ["p_3_cases"]);
        let again = create(&mut tables, "SELECT * FROM cases");
        assert_eq!(again, ["p_4_cases 0 rows"]);
        assert_eq!(
            tables.forget_all(),
            ["p_4_cases", "p_0_visits", "p_1_visits"]
        );
        assert!(tables.forget_all().is_empty());
    }
}
