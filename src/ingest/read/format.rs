//! The `[format]` table of a mapping file: how an export is written.
//!
//! Everything is optional: what is absent is found out from the file's name and its first bytes, and the reader says what
//! it found.

use serde::{Deserialize, Deserializer};

/// How an exported file is written.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Format {
    /// Kind of file; absent = from its name and first bytes.
    pub kind: Option<FileKind>,
    /// Delimited text only; absent = detected.
    #[serde(deserialize_with = "delimiter")]
    pub delimiter: Option<u8>,
    /// Text formats only; absent = byte-order mark, else UTF-8.
    pub encoding: Option<Encoding>,
    /// Mark between whole and fraction; absent = a point, and numbers that could be read either way are refused.
    #[serde(deserialize_with = "decimal")]
    pub decimal: Option<char>,
    /// Mark between groups of three digits, if any.
    #[serde(deserialize_with = "thousands")]
    pub thousands: Option<char>,
    /// Order of day, month and year.
    pub dates: DateOrder,
    /// Workbook only; absent = the first.
    pub sheet: Option<String>,
    /// Line (delimited) or row (workbook) of the column names, from 1.
    #[serde(deserialize_with = "header_row")]
    pub header_row: u32,
    /// Absent = from the first bytes.
    pub compression: Option<Compression>,
}

impl Default for Format {
    fn default() -> Self {
        Self {
            kind: None,
            delimiter: None,
            encoding: None,
            decimal: None,
            thousands: None,
            dates: DateOrder::Ymd,
            sheet: None,
            header_row: 1,
            compression: None,
        }
    }
}

/// Kinds of exported file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FileKind {
    /// Text with one delimiter between cells.
    Delimited,
    /// One JSON object a line.
    JsonLines,
    /// A JSON array of objects.
    Json,
    /// A spreadsheet: xlsx, xlsb, xls or ods.
    Workbook,
    /// Apache Parquet.
    Parquet,
}

impl FileKind {
    /// The word used in mapping files and messages.
    pub fn id(self) -> &'static str {
        match self {
            Self::Delimited => "delimited",
            Self::JsonLines => "json-lines",
            Self::Json => "json",
            Self::Workbook => "workbook",
            Self::Parquet => "parquet",
        }
    }
}

/// Encodings of text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum Encoding {
    /// UTF-8.
    #[serde(rename = "utf-8")]
    Utf8,
    /// UTF-16, low byte first.
    #[serde(rename = "utf-16le")]
    Utf16Le,
    /// UTF-16, high byte first.
    #[serde(rename = "utf-16be")]
    Utf16Be,
    /// Windows code page 1252.
    #[serde(rename = "windows-1252")]
    Windows1252,
}

impl Encoding {
    /// The word used in mapping files and messages.
    pub fn id(self) -> &'static str {
        match self {
            Self::Utf8 => "utf-8",
            Self::Utf16Le => "utf-16le",
            Self::Utf16Be => "utf-16be",
            Self::Windows1252 => "windows-1252",
        }
    }
}

/// Compressions of a whole file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum Compression {
    /// As it is.
    #[serde(rename = "none")]
    None,
    /// Gzip, also of several members.
    #[serde(rename = "gz")]
    Gzip,
    /// Zstandard.
    #[serde(rename = "zst")]
    Zstd,
}

/// How dates are written in text cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DateOrder {
    /// Year, month, day.
    #[default]
    Ymd,
    /// Day, month, year.
    Dmy,
    /// Month, day, year.
    Mdy,
    /// A spreadsheet's day number, day 1 = 1900-01-01.
    #[serde(rename = "serial-1900")]
    Serial1900,
    /// A spreadsheet's day number, day 0 = 1904-01-01.
    #[serde(rename = "serial-1904")]
    Serial1904,
}

fn delimiter<'de, D: Deserializer<'de>>(d: D) -> Result<Option<u8>, D::Error> {
    let text = String::deserialize(d)?;
    match text.as_bytes() {
        _ if text == "tab" => Ok(Some(b'\t')),
        [b] if b.is_ascii() && !b.is_ascii_alphanumeric() && !b"\"\r\n\0".contains(b) => {
            Ok(Some(*b))
        }
        _ => Err(serde::de::Error::custom(format!(
            "delimiter {text:?} is neither one ASCII mark (such as \",\" \";\" \"|\") nor \"tab\""
        ))),
    }
}

fn mark<E: serde::de::Error>(text: &str, what: &str, allowed: &[char]) -> Result<char, E> {
    let mut chars = text.chars();
    match (chars.next(), chars.next()) {
        (Some(c), None) if allowed.contains(&c) => Ok(c),
        _ => Err(E::custom(format!(
            "{what} mark {text:?} is not one of {}",
            allowed
                .iter()
                .map(|c| format!("{:?}", c.to_string()))
                .collect::<Vec<_>>()
                .join(" ")
        ))),
    }
}

fn decimal<'de, D: Deserializer<'de>>(d: D) -> Result<Option<char>, D::Error> {
    mark(&String::deserialize(d)?, "decimal", &['.', ',']).map(Some)
}

fn thousands<'de, D: Deserializer<'de>>(d: D) -> Result<Option<char>, D::Error> {
    let allowed = ['.', ',', '\'', ' ', '\u{a0}', '\u{202f}', '\u{2019}', '_'];
    mark(&String::deserialize(d)?, "thousands", &allowed).map(Some)
}

fn header_row<'de, D: Deserializer<'de>>(d: D) -> Result<u32, D::Error> {
    match u32::deserialize(d)? {
        0 => Err(serde::de::Error::custom(
            "header_row counts from 1: the first line is 1",
        )),
        row => Ok(row),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Format, String> {
        toml::from_str(text).map_err(|e| e.to_string())
    }

    #[test]
    fn reads_every_key() {
        let f = read(
            "kind = 'json-lines'\ndelimiter = 'tab'\nencoding = 'utf-16le'\ndecimal = ','\nthousands = '.'\n\
             dates = 'serial-1904'\nsheet = 'Jobs'\nheader_row = 3\ncompression = 'zst'",
        )
        .unwrap();
        assert_eq!(f.kind, Some(FileKind::JsonLines));
        assert_eq!(f.delimiter, Some(b'\t'));
        assert_eq!(f.encoding, Some(Encoding::Utf16Le));
        assert_eq!((f.decimal, f.thousands), (Some(','), Some('.')));
        assert_eq!(f.dates, DateOrder::Serial1904);
        assert_eq!(f.header_row, 3);
        assert_eq!(f.compression, Some(Compression::Zstd));
        assert_eq!(read("").unwrap(), Format::default());
    }

    #[test]
    fn refuses_what_makes_no_sense() {
        for (text, part) in [
            ("delimiter = 'ab'", "neither one ASCII mark"),
            ("delimiter = '\"'", "neither one ASCII mark"),
            ("header_row = 0", "counts from 1"),
            ("decimal = ':'", "is not one of"),
            ("kind = 'csv'", "json-lines"),
            ("delimeter = ','", "unknown field"),
        ] {
            let message = read(text).unwrap_err();
            assert!(message.contains(part), "{text}: {message}");
        }
    }
}
