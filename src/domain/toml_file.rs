//! Reading our own TOML files so that every complaint names the file, the line and the key.

use std::ops::Range;
use std::path::Path;

use serde::de::DeserializeOwned;

use crate::domain::problem::{AtFile, Problem, Result};

/// The text of a file, for `from_text`.
pub(crate) fn read(path: &Path, doing: &str) -> Result<String> {
    std::fs::read_to_string(path).at_file(doing, path)
}

/// Decodes `text`; a syntax error, unknown key or wrong type names file and line.
pub(crate) fn from_text<T: DeserializeOwned>(text: &str, file: &Path) -> Result<T> {
    toml::from_str(text).map_err(|e| {
        let problem = Problem::data(e.message().trim().to_owned())
            .file(file)
            .remedy("correct the file; the documentation shows its keys");
        match e.span() {
            Some(span) => problem.line(line_of(text, &span)),
            None => problem,
        }
    })
}

/// The line, from 1, on which a span begins.
pub(crate) fn line_of(text: &str, span: &Range<usize>) -> u64 {
    let before = text.as_bytes().iter().take(span.start);
    1 + before.filter(|b| **b == b'\n').count() as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Two {
        #[allow(dead_code)]
        a: i64,
    }

    #[test]
    fn names_the_line() {
        let problem = from_text::<Two>("a = 1\nb = 2\n", Path::new("x.toml")).expect_err("b");
        let text = problem.to_string();
        assert!(text.starts_with("x.toml, line 2: unknown field"), "{text}");
        let problem = from_text::<Two>("\n\na = \n", Path::new("x.toml")).expect_err("syntax");
        assert!(
            problem.to_string().starts_with("x.toml, line 3"),
            "{problem}"
        );
    }
}
