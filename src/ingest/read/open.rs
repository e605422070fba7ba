//! Opens an exported file with the reader of its kind, which the mapping tells or the name and first bytes show.

use std::path::Path;

use super::delimited::DelimitedReader;
use super::format::{Compression, FileKind, Format};
use super::json::JsonReader;
use super::reader::RecordReader;
use super::source;
use crate::domain::problem::{Problem, Result};

/// Opens an exported file.
///
/// # Errors
/// There is no such file, it is a folder, empty, of no known kind, or its beginning cannot be read.
pub fn open(path: &Path, format: &Format) -> Result<Box<dyn RecordReader>> {
    let kind = match format.kind {
        Some(kind) => kind,
        None => kind_of(path, &source::head(path)?)?,
    };
    match kind {
        FileKind::Delimited => Ok(Box::new(DelimitedReader::open(path, format)?)),
        FileKind::JsonLines => Ok(Box::new(JsonReader::open_lines(path, format)?)),
        FileKind::Json => Ok(Box::new(JsonReader::open_array(path, format)?)),
        other => Err(unreadable(path, other)),
    }
}

fn unreadable(path: &Path, kind: FileKind) -> Problem {
    Problem::data(format!("{} files cannot be read yet", kind.id()))
        .file(path)
        .remedy("export as delimited text")
}

/// The kind of a file by its first bytes, then by its name without the ending of a compression.
fn kind_of(path: &Path, head: &[u8]) -> Result<FileKind> {
    const ZIP: &[u8] = b"PK\x03\x04";
    const COMPOUND: &[u8] = &[0xd0, 0xcf, 0x11, 0xe0];
    if head.starts_with(b"PAR1") {
        return Ok(FileKind::Parquet);
    }
    if head.starts_with(ZIP) || head.starts_with(COMPOUND) {
        let name = extension(path);
        if name.as_deref() == Some("zip") {
            return Err(Problem::data("a zip archive may hold several files")
                .file(path)
                .remedy("unpack it and ingest the files in it"));
        }
        return Ok(FileKind::Workbook);
    }
    let inner = if source::compression_of(head) == Compression::None {
        extension(path)
    } else {
        path.file_stem().and_then(|stem| extension(Path::new(stem)))
    };
    match inner.as_deref() {
        Some("jsonl" | "ndjson") => Ok(FileKind::JsonLines),
        Some("json") => Ok(FileKind::Json),
        Some("pdf") => Err(Problem::data("this kind of file is not an export of records")
            .file(path)
            .remedy("export as delimited text, JSON, a workbook or Parquet")),
        Some(workbook @ ("xlsx" | "xlsm" | "xlsb" | "xls" | "ods")) => {
            Err(Problem::data(format!("the name ends in .{workbook} but the file is no workbook"))
                .file(path)
                .remedy("if it is text under a wrong name, set `kind` under [format] in the mapping; else export it again"))
        }
        _ => Ok(FileKind::Delimited),
    }
}

fn extension(path: &Path) -> Option<String> {
    path.extension()
        .and_then(|e| e.to_str())
        .map(str::to_ascii_lowercase)
}
