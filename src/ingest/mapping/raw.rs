//! A mapping file as it is written, before anything is checked. Columns and codes stay plain TOML values here, so that the
//! check can name the key that is wrong instead of "no variant matched".

use std::collections::BTreeMap;
use std::path::Path;

use serde::Deserialize;

use crate::domain::problem::{Problem, Result};
use crate::ingest::read::Format;

/// The whole file.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RawMapping {
    pub source: String,
    pub files: Vec<String>,
    #[serde(default)]
    pub format: Format,
    pub export_date: Option<RawExportDate>,
    #[serde(default)]
    pub defaults: BTreeMap<String, toml::Value>,
    #[serde(default)]
    pub codes: BTreeMap<String, BTreeMap<String, toml::Value>>,
    #[serde(default)]
    pub exclude: BTreeMap<String, toml::Value>,
    #[serde(default)]
    pub table: Vec<RawTable>,
}

/// `[export_date]`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RawExportDate {
    pub file_name: Option<String>,
    pub column: Option<String>,
    pub value: Option<String>,
}

/// One `[[table]]`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RawTable {
    pub into: String,
    pub when: Option<toml::Value>,
    pub columns: BTreeMap<String, toml::Value>,
}

impl RawMapping {
    /// Reads the text; syntax, unknown keys and wrong types are told with their line.
    pub fn from_text(text: &str, file: &Path) -> Result<Self> {
        toml::from_str(text).map_err(|e: toml::de::Error| {
            let mut problem = Problem::data(e.message().to_owned()).file(file).remedy(
                "`boretally ingest --guess FILE` writes a mapping that is right, to compare with",
            );
            if let Some(span) = e.span() {
                let before = text.get(..span.start).unwrap_or("");
                problem = problem.line(before.matches('\n').count() as u64 + 1);
                if let Some(found) = text.get(span)
                    && !found.is_empty()
                    && !found.contains('\n')
                {
                    problem = problem.value(found);
                }
            }
            problem
        })
    }
}

/// The text of a constant: TOML strings, whole numbers, decimals, truth values and days.
pub fn constant(value: &toml::Value) -> Option<String> {
    match value {
        toml::Value::String(text) => Some(text.clone()),
        toml::Value::Integer(n) => Some(n.to_string()),
        toml::Value::Float(x) => Some(x.to_string()),
        toml::Value::Boolean(b) => Some(b.to_string()),
        toml::Value::Datetime(d) => Some(d.to_string()),
        _ => None,
    }
}
