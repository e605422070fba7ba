//! Where rows of an export go: one interface over text, JSON lines and workbooks, which knows file and line of each row.

use crate::domain::problem::Result;
use crate::synth::export::cell::Cell;

/// Damage that only the written form can have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RawDamage {
    /// The row ends early.
    Short,
    /// The row has cells too many.
    Long,
    /// A byte that the file's encoding does not have.
    Undecodable,
}

/// Where a row was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// File, relative to the output folder, with `#sheet` for a workbook.
    pub file: String,
    /// Line, or row of a sheet, from 1.
    pub line: u64,
}

/// Takes the rows of one kind.
pub trait Sink {
    /// Writes a row as wide as the columns.
    fn write(&mut self, row: &[Cell], damage: Option<RawDamage>) -> Result<Place>;

    /// Damage that this format can have.
    fn can_have(&self) -> &'static [RawDamage];

    /// Writes what is left and closes the file.
    fn finish(&mut self) -> Result<()>;
}
