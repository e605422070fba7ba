//! What every format offers: a header, then records one by one, each whole or damaged.
//!
//! A damaged record is an outcome and not an error, so that it can be put in quarantine and the file goes on. An error
//! (`Problem`) means that the file as a whole cannot be read further.

use super::record::{Header, RawRecord};
use crate::domain::problem::Result;

/// Longest record accepted, in bytes. An opening quote without its end would otherwise swallow the rest of the file.
pub const RECORD_LIMIT: usize = 1 << 20;

/// Reads one exported file, record by record.
pub trait RecordReader: Send {
    /// The columns; may grow while reading when it `is_open`.
    fn header(&self) -> &Header;

    /// Reads the next record into `record`, whose content is valid only after `ReadOutcome::Record`.
    ///
    /// # Errors
    /// When the file cannot be read further: an input error or a damaged compression.
    fn read(&mut self, record: &mut RawRecord) -> Result<ReadOutcome>;

    /// How far the file on disk (compressed, as it is) was read.
    fn progress(&self) -> Progress;

    /// What was detected and not told by the mapping, as sentences for the user: delimiter, encoding, sheet. After the end it
    /// also says that there was no record, or that a column asked for was in none.
    fn notes(&self) -> &[String];

    /// The index of a column by name. Where columns may appear later (`Header::is_open`) an unknown one is appended, so that
    /// the answer stays right for the whole file.
    fn column(&mut self, name: &str) -> Option<usize> {
        self.header().index(name)
    }
}

/// Bytes of the file on disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Bytes read.
    pub read: u64,
    /// Size of the file.
    pub total: u64,
}

/// What one call of `read` found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ReadOutcome {
    /// A whole record.
    Record,
    /// A record that cannot be split into its cells; the file goes on after it.
    Damaged(Damage),
    /// The end of the file.
    End,
}

/// A record that could not be read, with all that is needed to show and repair it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// The line or record number it starts at, from 1.
    pub line: u64,
    /// Why.
    pub reason: DamageReason,
    /// One sentence with the particulars.
    pub detail: String,
    /// The record as found; bytes that are no text appear as `\xNN`.
    pub raw: String,
}

/// Why a record could not be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DamageReason {
    /// Fewer cells than the header has named columns.
    TooFewCells,
    /// More cells than the header, and the surplus is not empty.
    TooManyCells,
    /// A quoted cell that does not end, or goes on after its closing quote.
    UnbalancedQuote,
    /// Bytes that are no text in the file's encoding.
    UndecodableBytes,
    /// A zero byte, as left by a broken transfer.
    ZeroByte,
    /// Longer than `RECORD_LIMIT`.
    RecordTooLong,
    /// Not JSON.
    InvalidJson,
    /// JSON, but not an object.
    NotAnObject,
    /// A JSON number with more digits than can be kept exactly.
    InexactNumber,
    /// The file ends in the middle of a record.
    CutOff,
}

impl DamageReason {
    /// All reasons, for the quarantine's documentation and its tests.
    pub const ALL: [DamageReason; 10] = [
        Self::TooFewCells,
        Self::TooManyCells,
        Self::UnbalancedQuote,
        Self::UndecodableBytes,
        Self::ZeroByte,
        Self::RecordTooLong,
        Self::InvalidJson,
        Self::NotAnObject,
        Self::InexactNumber,
        Self::CutOff,
    ];

    /// The reason id as stored in the quarantine, in the style of all rules of ingest.
    pub fn id(self) -> &'static str {
        match self {
            Self::TooFewCells => "too-few-cells",
            Self::TooManyCells => "too-many-cells",
            Self::UnbalancedQuote => "unbalanced-quote",
            Self::UndecodableBytes => "undecodable-bytes",
            Self::ZeroByte => "zero-byte",
            Self::RecordTooLong => "record-too-long",
            Self::InvalidJson => "invalid-json",
            Self::NotAnObject => "not-an-object",
            Self::InexactNumber => "inexact-number",
            Self::CutOff => "cut-off",
        }
    }

    /// What to do about it, in one sentence.
    pub fn remedy(self) -> &'static str {
        match self {
            Self::TooFewCells | Self::TooManyCells => {
                "quote cells that hold the delimiter or a line break, then export again"
            }
            Self::UnbalancedQuote => "double every quote inside a quoted cell and close the cell",
            Self::UndecodableBytes => {
                "set `encoding` under [format] in the mapping, for instance \"windows-1252\""
            }
            Self::ZeroByte | Self::CutOff => {
                "the file was damaged on its way; copy or export it again"
            }
            Self::RecordTooLong => "look for an opening quote without its end near this line",
            Self::InvalidJson => "correct the JSON of this record",
            Self::NotAnObject => "write each record as an object: {\"column\": value, ...}",
            Self::InexactNumber => "export this column as text, so that no digit is lost",
        }
    }
}

/// Shows bytes as text: what is valid UTF-8 as it is, every other byte as `\xNN`.
pub(super) fn visible(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    let mut text = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        text.push_str(chunk.valid());
        for byte in chunk.invalid() {
            // Writing to a String cannot fail.
            let _ = write!(text, "\\x{byte:02X}");
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shows_bytes_that_are_no_text() {
        assert_eq!(visible(b"caf\xe9; 3 \xc3\xa9"), "caf\\xE9; 3 é");
    }

    #[test]
    fn reason_ids_are_unique() {
        let mut ids: Vec<_> = DamageReason::ALL.iter().map(|r| r.id()).collect();
        ids.sort();
        ids.dedup();
        assert_eq!(ids.len(), DamageReason::ALL.len());
    }
}
