//! What the user is told when something is wrong: where (file, line, field, value), what, and the way out.
//!
//! Every floor above `stats` returns this one type, so that no message can leave out its place or its remedy.

use std::any::Any;
use std::fmt;
use std::path::{Path, PathBuf};

/// Result of everything that can be wrong in a way the user must hear of.
pub type Result<T> = std::result::Result<T, Problem>;

/// Decides the exit code: 1 for the data or a check, 2 for the way the command was typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The data, a file or a check failed (exit code 1).
    Data,
    /// The command line asks for something that does not exist (exit code 2).
    Usage,
}

/// One problem, told once, completely.
///
/// Boxed inside, so that a `Result` that holds one stays small on the way that does not fail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem(Box<Parts>);

#[derive(Debug, Clone, PartialEq, Eq)]
struct Parts {
    kind: Kind,
    what: String,
    file: Option<PathBuf>,
    line: Option<u64>,
    field: Option<String>,
    value: Option<String>,
    remedy: Option<String>,
}

impl Problem {
    /// A problem of the data (exit code 1); `what` is one sentence without its place.
    pub fn data(what: impl Into<String>) -> Self {
        Self::new(Kind::Data, what.into())
    }

    /// A problem of the command line (exit code 2).
    pub fn usage(what: impl Into<String>) -> Self {
        Self::new(Kind::Usage, what.into())
    }

    /// What a thread leaves behind when it stops inside: a mistake of this program, told like any other problem.
    pub fn stopped_inside(what: &str, payload: &(dyn Any + Send)) -> Self {
        let text = payload.downcast_ref::<String>().map(String::as_str);
        let text = text.or_else(|| payload.downcast_ref::<&str>().copied());
        let text = text.unwrap_or("no reason given");
        Self::data(format!("{what} stopped inside: {text}")).remedy(
            "this is a mistake in boretally, not in the records: report it with this message",
        )
    }

    fn new(kind: Kind, what: String) -> Self {
        Self(Box::new(Parts {
            kind,
            what,
            file: None,
            line: None,
            field: None,
            value: None,
            remedy: None,
        }))
    }

    /// The file it happened in.
    pub fn file(mut self, file: impl AsRef<Path>) -> Self {
        self.0.file = Some(file.as_ref().to_path_buf());
        self
    }

    /// The line (or record number) in that file, counted from 1.
    pub fn line(mut self, line: u64) -> Self {
        self.0.line = Some(line);
        self
    }

    /// The column, key or option.
    pub fn field(mut self, field: impl Into<String>) -> Self {
        self.0.field = Some(field.into());
        self
    }

    /// The value as it was found.
    pub fn value(mut self, value: impl Into<String>) -> Self {
        self.0.value = Some(value.into());
        self
    }

    /// What to do about it, in one sentence.
    pub fn remedy(mut self, remedy: impl Into<String>) -> Self {
        self.0.remedy = Some(remedy.into());
        self
    }

    /// Which exit code it leads to.
    pub fn kind(&self) -> Kind {
        self.0.kind
    }

    /// The sentence without its place.
    pub fn what(&self) -> &str {
        &self.0.what
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut place = Vec::new();
        if let Some(file) = &self.0.file {
            place.push(file.display().to_string());
        }
        if let Some(line) = self.0.line {
            place.push(format!("line {line}"));
        }
        if let Some(field) = &self.0.field {
            place.push(format!("field {field}"));
        }
        if let Some(value) = &self.0.value {
            place.push(format!("value {value:?}"));
        }
        if !place.is_empty() {
            write!(f, "{}: ", place.join(", "))?;
        }
        f.write_str(&self.0.what)?;
        if let Some(remedy) = &self.0.remedy {
            write!(f, "\n  way out: {remedy}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Problem {}

/// Turns an I/O error into a problem that names its file.
pub trait AtFile<T> {
    /// `doing` completes "could not ..."; for instance `"read the mapping"`.
    fn at_file(self, doing: &str, file: &Path) -> Result<T>;
}

impl<T, E: fmt::Display> AtFile<T> for std::result::Result<T, E> {
    fn at_file(self, doing: &str, file: &Path) -> Result<T> {
        self.map_err(|e| Problem::data(format!("could not {doing}: {e}")).file(file))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_place_and_way_out() {
        let p = Problem::data("not a whole number")
            .file("a.csv")
            .line(3)
            .field("odometer")
            .value("12x")
            .remedy("correct the cell and ingest again");
        assert_eq!(
            p.to_string(),
            "a.csv, line 3, field odometer, value \"12x\": not a whole number\n  way out: correct the cell and ingest again"
        );
        assert_eq!(p.kind(), Kind::Data);
    }

    #[test]
    fn a_thread_that_stopped_inside_gives_its_reason() {
        for (payload, reason) in [
            (Box::new("no room") as Box<dyn Any + Send>, "no room"),
            (Box::new(format!("index {}", 3)), "index 3"),
            (Box::new(3), "no reason given"),
        ] {
            let said = Problem::stopped_inside("the check", payload.as_ref()).to_string();
            let wanted = format!("the check stopped inside: {reason}\n  way out: ");
            assert!(said.starts_with(&wanted), "{said}");
        }
    }
}
