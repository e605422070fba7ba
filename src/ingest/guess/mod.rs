//! A first mapping for an export, for a person to correct: each guess stands with the reason for it, and what nobody can
//! know stands as a question. Ingest itself never guesses; here a person reads the guess before it counts.

mod header_word;
mod sample;
mod tables;
mod value;
mod writing;

use std::path::Path;

use crate::domain::problem::Result;
use crate::ingest::mapping::Mapping;
use crate::ingest::mapping::code_list::Names;

/// The text of a first mapping for `file`, to be put at `place`.
///
/// # Errors
/// The export cannot be read, or has nothing in it that a table could be made of.
pub fn mapping(file: &Path, place: &Path, names: &Names) -> Result<String> {
    let sample = sample::Sample::take(file)?;
    let tables = tables::Tables::guess(&sample, file)?;
    let text = writing::write(file, place, &sample, &tables, names);
    // What is written must be a mapping; a mistake here is ours and is told instead of handed on.
    Mapping::from_text(&text, place, names)?;
    Ok(text)
}
