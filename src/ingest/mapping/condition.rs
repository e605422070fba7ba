//! Conditions on records: which of them feed a table (`when`), and which are left out (`[exclude]`).

use std::collections::{BTreeMap, HashSet};

use crate::domain::problem::Result;
use crate::ingest::cell::text::normal_form;

use super::mistake::InMapping;
use super::raw::constant;

/// Records whose column holds one of these words are left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exclusion {
    /// Column of the export.
    pub column: String,
    /// Normal forms of the words.
    pub words: HashSet<String>,
}

/// A condition on one column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Condition {
    /// Column of the export.
    pub column: String,
    /// What must be true of it.
    pub test: Test,
}

/// What must be true of a cell; words are in normal form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Test {
    /// It is one of these words.
    OneOf(Vec<String>),
    /// It is none of these words.
    NoneOf(Vec<String>),
    /// It is empty.
    Empty,
    /// It is not empty.
    NotEmpty,
}

/// Checks `when`: one condition or a list of them.
pub(super) fn conditions(
    value: Option<&toml::Value>,
    key: &str,
    at: InMapping,
) -> Result<Vec<Condition>> {
    match value {
        None => Ok(Vec::new()),
        Some(toml::Value::Array(list)) => list.iter().map(|v| condition(v, key, at)).collect(),
        Some(one) => Ok(vec![condition(one, key, at)?]),
    }
}

fn condition(value: &toml::Value, key: &str, at: InMapping) -> Result<Condition> {
    let way_out = "write { column = \"Line\", equals = \"1\" }; there are: equals, not_equals, empty = true, not_empty = true";
    let wrong = |what: &str| {
        at.mistake(key, what)
            .value(value.to_string())
            .remedy(way_out)
    };
    let table = value
        .as_table()
        .ok_or_else(|| wrong("a condition is a table"))?;
    let mut column = None;
    let mut test = None;
    for (name, value) in table {
        let yes = value.as_bool() == Some(true);
        let found = match name.as_str() {
            "column" => {
                column = value.as_str().map(str::to_owned);
                continue;
            }
            "equals" => Test::OneOf(words(value, key, at)?),
            "not_equals" => Test::NoneOf(words(value, key, at)?),
            "empty" if yes => Test::Empty,
            "not_empty" if yes => Test::NotEmpty,
            _ => return Err(wrong("the condition has a key it does not know")),
        };
        if test.replace(found).is_some() {
            return Err(wrong(
                "a condition tests one thing; write a list of conditions for several",
            ));
        }
    }
    match (column, test) {
        (Some(column), Some(test)) => Ok(Condition { column, test }),
        _ => Err(wrong("a condition needs a column and a test")),
    }
}

/// Checks `[exclude]`.
pub(super) fn exclusions(
    raw: &BTreeMap<String, toml::Value>,
    at: InMapping,
) -> Result<Vec<Exclusion>> {
    raw.iter()
        .map(|(column, value)| {
            Ok(Exclusion {
                column: column.clone(),
                words: words(value, &format!("exclude.{column:?}"), at)?
                    .into_iter()
                    .collect(),
            })
        })
        .collect()
}

fn words(value: &toml::Value, key: &str, at: InMapping) -> Result<Vec<String>> {
    let list = match value {
        toml::Value::Array(list) => list.iter().map(constant).collect::<Option<Vec<_>>>(),
        other => constant(other).map(|t| vec![t]),
    };
    list.map(|l| l.iter().map(|w| normal_form(w)).collect())
        .ok_or_else(|| {
            at.mistake(key, "should be a word or a list of words, in quotes")
                .value(value.to_string())
        })
}
