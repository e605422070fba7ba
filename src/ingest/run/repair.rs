//! Repair files: records that were in quarantine, written out by `store quarantine --out` and corrected by a person.
//!
//! They go through the mapping of their export, but they are CSV files whatever the export was; what gives them away is
//! a column that notes what was wrong. A spreadsheet may have saved them with another delimiter.

use std::fs::File;
use std::io::{BufRead, BufReader, Read, Seek};
use std::path::{Path, PathBuf};

use crate::domain::problem::{AtFile, Result};
use crate::ingest::read::{FileKind, Format};
use crate::store::repair::{FILE_NOTE, REASON_NOTE};

/// Longer first lines are not those of a repair file.
const LONGEST_HEADER: u64 = 1 << 20;

/// A file that is a repair file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Repair {
    /// The export whose records it repairs, where it says so.
    pub export: Option<PathBuf>,
}

impl Repair {
    /// Looks whether `file` is one.
    pub fn look(file: &Path) -> Result<Option<Self>> {
        let mut input = BufReader::new(File::open(file).at_file("read", file)?);
        let mut first = Vec::new();
        (&mut input)
            .take(LONGEST_HEADER)
            .read_until(b'\n', &mut first)
            .at_file("read", file)?;
        let header = String::from_utf8_lossy(&first);
        let Some((_, behind)) = header.split_once(REASON_NOTE) else {
            return Ok(None);
        };
        let delimiter = behind.bytes().find(|b| *b != b'"').unwrap_or(b',');
        input.rewind().at_file("read", file)?;
        let export = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .flexible(true)
            .from_reader(input);
        Ok(Some(Self {
            export: first_export(export),
        }))
    }

    /// How the file is written; what its cells look like is as the mapping says.
    pub fn format(mapped: &Format) -> Format {
        Format {
            kind: Some(FileKind::Delimited),
            decimal: mapped.decimal,
            thousands: mapped.thousands,
            dates: mapped.dates,
            ..Format::default()
        }
    }
}

/// The note of the first record. What is wrong with the file is said by the reader that takes its records in.
fn first_export(mut reader: csv::Reader<impl Read>) -> Option<PathBuf> {
    let column = reader.headers().ok()?.iter().position(|n| n == FILE_NOTE)?;
    let first = reader.records().next()?.ok()?;
    let name = first.get(column).filter(|n| !n.is_empty())?;
    Some(PathBuf::from(name))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look(text: &str) -> Option<Repair> {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("bad.csv");
        std::fs::write(&file, text).unwrap();
        Repair::look(&file).unwrap()
    }

    #[test]
    fn the_notes_give_a_repair_file_away() {
        let export = |name: &str| {
            Some(Repair {
                export: Some(PathBuf::from(name)),
            })
        };
        let text =
            "Order,boretally_reason,boretally_field,boretally_file\n1,x,\"a,b\",june 2024.csv\n";
        assert_eq!(look(text), export("june 2024.csv"));
        assert_eq!(look(&text.replace(',', ";")), export("june 2024.csv"));
        assert_eq!(
            look("\u{feff}\"Order\"\t\"boretally_reason\"\t\"boretally_file\"\n1\tx\ty\n"),
            export("y")
        );
        assert_eq!(
            look("Order,boretally_reason\n"),
            Some(Repair { export: None })
        );
        assert_eq!(look("Order,Reason\n1,boretally_reason\n"), None);
        assert_eq!(look(""), None);
    }
}
