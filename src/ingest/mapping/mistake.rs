//! What is told about a mistake in a mapping file: file, key, value, way out.

use std::path::Path;

use crate::domain::problem::Problem;
use crate::domain::suggestion::closest;

/// The mapping file a mistake is in.
#[derive(Debug, Clone, Copy)]
pub struct InMapping<'a>(pub &'a Path);

impl InMapping<'_> {
    /// A mistake at a key; `key` is written as in the file: `codes.cause`, `table 2 (cases).columns.odometer`.
    pub fn mistake(&self, key: &str, what: impl Into<String>) -> Problem {
        Problem::data(what).file(self.0).field(key)
    }

    /// A word that is none of those there are.
    pub fn unknown<'a>(
        &self,
        key: &str,
        what: &str,
        typed: &str,
        known: impl IntoIterator<Item = &'a str>,
    ) -> Problem {
        let known: Vec<&str> = known.into_iter().collect();
        self.mistake(key, format!("there is no {what} of this name"))
            .value(typed)
            .remedy(one_of(typed, &known))
    }
}

/// "did you mean ...? There are: ...".
pub fn one_of(typed: &str, known: &[&str]) -> String {
    let list = if known.is_empty() {
        "there are none".to_owned()
    } else {
        format!("there are: {}", known.join(", "))
    };
    match closest(typed, known.iter().copied()) {
        Some(near) => format!("did you mean {near:?}? ({list})"),
        None => list,
    }
}
