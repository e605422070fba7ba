//! A first mapping for an export, for a person to correct: each guess with the reason for it.

use std::path::Path;

use crate::domain::problem::{Problem, Result};
use crate::ingest::mapping::code_list::Names;

/// A first mapping for an export.
pub fn mapping(file: &Path, _place: &Path, _names: &Names) -> Result<String> {
    Err(Problem::data("mappings cannot be guessed by this version").file(file))
}
