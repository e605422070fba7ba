//! Reading exported files of any format into one stream of raw records.
//!
//! `open` finds the kind of a file and gives a `RecordReader`; it reads into one `RawRecord` that is used again and again. Text
//! formats and Parquet take a few MiB of memory however large the file is; of a workbook the sheet is loaded (see there).
//! Nothing is understood here: cells stay text, with a `CellKind` that says what the format itself knew, so that rules
//! for decimal marks and date orders are not applied to a number or a date that needs none.
//!
//! # What is damage, and what is not
//!
//! A damaged record is handed out with its line, its reason and its raw text, and reading goes on after it. Nothing is
//! repaired by a guess and nothing is skipped in silence.
//!
//! | found | what happens |
//! |---|---|
//! | blank line, or a row of nothing but delimiters and blanks | no record; not counted |
//! | fewer cells than named columns | `too-few-cells` (it may be the first half of a broken cell) |
//! | trailing columns without a name in the header | may be missing, may be there |
//! | more cells than the header | accepted if the surplus is empty, else `too-many-cells` |
//! | a quoted cell goes on after its closing quote, or never ends | `unbalanced-quote`: its first line only; reading goes on with the next line |
//! | a quoted cell spans lines and the record is ragged | the first line is damaged, the others are read on their own (quotes that pair up by accident) |
//! | a quote inside a cell that does not begin with one | an ordinary character (`5/8" socket`) |
//! | line ends LF, CRLF, CR, mixed | each is one line; inside quoted cells they stay as they are |
//! | bytes that are no text in the encoding | `undecodable-bytes` for that record; never replaced |
//! | the five bytes Windows-1252 leaves undefined | the same |
//! | a zero byte | `zero-byte` |
//! | a record of `RECORD_LIMIT` bytes or more | `record-too-long`; the beginning is kept, the rest of the line passed |
//! | a line or element that is no JSON, or names a column twice | `invalid-json` |
//! | JSON that is no object | `not-an-object` |
//! | a JSON number of more than 64 bits | `inexact-number` |
//! | a JSON array that does not end | what is whole is read, then `cut-off` |
//! | an array element without its closing bracket | `invalid-json`; reading goes on with the next line that begins an object as far in |
//! | a workbook cell in error | the record is whole; the cell is `CellKind::Error` with its mark (`#N/A`) |
//! | a date that does not exist in a workbook, NaN in Parquet | the same, with the number as text |
//! | Parquet bytes that are no text | `undecodable-bytes` |
//! | damaged compression, container or footer | a problem of the whole file |
//!
//! Lines are physical lines, from 1, of the decompressed file (where the record starts); workbooks count rows of the sheet,
//! Parquet counts records.

mod delimited;
mod encoding;
mod foreign;
mod format;
mod json;
mod open;
mod parquet;
mod reader;
mod record;
mod source;
mod workbook;

pub use delimited::DelimitedReader;
pub use format::{Compression, DateOrder, Encoding, FileKind, Format};
pub use json::JsonReader;
pub use open::open;
pub use parquet::ParquetReader;
pub use reader::{Damage, DamageReason, Progress, RECORD_LIMIT, ReadOutcome, RecordReader};
pub use record::{CellKind, Header, RawRecord};
pub use workbook::WorkbookReader;
