//! Opens an exported file with the reader of its kind, which the mapping tells or the name and first bytes show.

use std::path::Path;

use super::delimited::DelimitedReader;
use super::format::{Compression, FileKind, Format};
use super::json::JsonReader;
use super::parquet::ParquetReader;
use super::reader::RecordReader;
use super::source;
use super::workbook::WorkbookReader;
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
        FileKind::Workbook => Ok(Box::new(WorkbookReader::open(path, format)?)),
        FileKind::Parquet => Ok(Box::new(ParquetReader::open(path)?)),
    }
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
    let compressed = source::compression_of(head) != Compression::None;
    let inner = if compressed {
        path.file_stem().and_then(|stem| extension(Path::new(stem)))
    } else {
        extension(path)
    };
    match inner.as_deref() {
        Some("jsonl" | "ndjson") => Ok(FileKind::JsonLines),
        Some("json") => Ok(FileKind::Json),
        Some("pdf") => Err(Problem::data("this kind of file is not an export of records")
            .file(path)
            .remedy("export as delimited text, JSON, a workbook or Parquet")),
        Some("xlsx" | "xlsm" | "xlsb" | "xls" | "ods" | "parquet") if compressed => {
            Err(Problem::data("this file is compressed inside already and once more outside")
                .file(path)
                .remedy("unpack the outer compression first"))
        }
        Some(workbook @ ("xlsx" | "xlsm" | "xlsb" | "xls" | "ods")) => {
            Err(Problem::data(format!("the name ends in .{workbook} but the file is no workbook"))
                .file(path)
                .remedy("if it is text under a wrong name, set `kind` under [format] in the mapping; else export it again"))
        }
        Some("parquet") => Err(Problem::data("the name ends in .parquet but the file is no Parquet")
            .file(path)
            .remedy("export it again, or set `kind` under [format] in the mapping to what it is")),
        _ => Ok(FileKind::Delimited),
    }
}

fn extension(path: &Path) -> Option<String> {
    path.extension()
        .and_then(|e| e.to_str())
        .map(str::to_ascii_lowercase)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kind(name: &str, head: &[u8]) -> std::result::Result<FileKind, String> {
        kind_of(Path::new(name), head).map_err(|p| p.to_string())
    }

    #[test]
    fn content_comes_before_the_name() {
        assert_eq!(kind("a.csv", b"PAR1\x15"), Ok(FileKind::Parquet));
        assert_eq!(kind("a.csv", b"PK\x03\x04"), Ok(FileKind::Workbook));
        assert_eq!(kind("a.JSONL", b"{}"), Ok(FileKind::JsonLines));
        assert_eq!(kind("a.json.gz", b"\x1f\x8b"), Ok(FileKind::Json));
        assert_eq!(kind("a.txt", b"a,b"), Ok(FileKind::Delimited));
        assert_eq!(kind("a", b"a,b"), Ok(FileKind::Delimited));
    }

    #[test]
    fn says_what_it_cannot_read() {
        for (name, head, part) in [
            ("a.zip", &b"PK\x03\x04"[..], "unpack"),
            ("a.xlsx", b"a,b", "no workbook"),
            ("a.xlsx.gz", b"\x1f\x8b", "outer compression"),
            ("a.parquet", b"a,b", "no Parquet"),
            ("a.pdf", b"%PDF", "not an export"),
        ] {
            let message = kind(name, head).unwrap_err();
            assert!(message.contains(part), "{name}: {message}");
        }
    }
}
