//! Delimited text in the encodings and compressions that exports come in.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use crate::domain::problem::{AtFile, Result};
use crate::synth::export::cell::{Cell, Column, Locale};
use crate::synth::export::sink::{Place, RawDamage, Sink};

/// Stands in a line for a byte that the encoding does not have.
const UNDECODABLE: char = '\u{fffc}';

/// Encodings that are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8 with a byte-order mark.
    Utf8Bom,
    /// UTF-8.
    Utf8,
    /// Windows code page 1252.
    Windows1252,
    /// UTF-16, low byte first, with a byte-order mark.
    Utf16Le,
}

impl Encoding {
    fn mark(self) -> &'static [u8] {
        match self {
            Encoding::Utf8Bom => b"\xef\xbb\xbf",
            Encoding::Utf16Le => b"\xff\xfe",
            _ => b"",
        }
    }

    fn encode(self, line: &str, out: &mut Vec<u8>) {
        for c in line.chars() {
            match (self, c) {
                (Encoding::Utf16Le, UNDECODABLE) => out.extend_from_slice(&0xd800u16.to_le_bytes()),
                (Encoding::Windows1252, UNDECODABLE) => out.push(0x81),
                (_, UNDECODABLE) => out.push(0xff),
                (Encoding::Utf16Le, _) => {
                    let mut units = [0u16; 2];
                    for unit in c.encode_utf16(&mut units) {
                        out.extend_from_slice(&unit.to_le_bytes());
                    }
                }
                (Encoding::Windows1252, _) => {
                    let mut text = [0u8; 4];
                    let (bytes, _, _) = encoding_rs::WINDOWS_1252.encode(c.encode_utf8(&mut text));
                    out.extend_from_slice(&bytes);
                }
                _ => {
                    let mut text = [0u8; 4];
                    out.extend_from_slice(c.encode_utf8(&mut text).as_bytes());
                }
            }
        }
    }
}

/// Compressions of a whole file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Compression {
    /// None.
    None,
    /// Gzip, without a time of writing.
    Gzip,
    /// Zstandard.
    Zstd,
}

/// A compressed or plain file that can be closed with its errors heard.
pub enum Stream {
    /// As it is.
    Plain(BufWriter<File>),
    /// Gzip.
    Gzip(Box<flate2::write::GzEncoder<BufWriter<File>>>),
    /// Zstandard.
    Zstd(Box<zstd::Encoder<'static, BufWriter<File>>>),
}

impl Stream {
    /// Creates the file and the folders above it.
    pub fn create(path: &Path, compression: Compression) -> Result<Self> {
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).at_file("create the folder", folder)?;
        }
        let file = BufWriter::new(File::create(path).at_file("create the file", path)?);
        Ok(match compression {
            Compression::None => Stream::Plain(file),
            Compression::Gzip => Stream::Gzip(Box::new(
                flate2::GzBuilder::new()
                    .mtime(0)
                    .write(file, flate2::Compression::best()),
            )),
            Compression::Zstd => Stream::Zstd(Box::new(
                zstd::Encoder::new(file, 9).at_file("compress", path)?,
            )),
        })
    }

    /// Writes bytes.
    pub fn write(&mut self, bytes: &[u8], path: &Path) -> Result<()> {
        match self {
            Stream::Plain(w) => w.write_all(bytes),
            Stream::Gzip(w) => w.write_all(bytes),
            Stream::Zstd(w) => w.write_all(bytes),
        }
        .at_file("write", path)
    }

    /// Ends the compression and writes what is buffered.
    pub fn close(self, path: &Path) -> Result<()> {
        let flushed = match self {
            Stream::Plain(mut w) => w.flush(),
            Stream::Gzip(w) => w.finish().and_then(|mut w| w.flush()),
            Stream::Zstd(w) => w.finish().and_then(|mut w| w.flush()),
        };
        flushed.at_file("write", path)
    }
}

/// How a delimited file is written.
#[derive(Debug, Clone, Copy)]
pub struct Style {
    /// Between cells.
    pub delimiter: char,
    /// Encoding.
    pub encoding: Encoding,
    /// Compression.
    pub compression: Compression,
    /// Numbers and days.
    pub locale: Locale,
}

/// One delimited file.
pub struct DelimitedFile {
    path: std::path::PathBuf,
    name: String,
    style: Style,
    stream: Option<Stream>,
    next_line: u64,
    bytes: Vec<u8>,
}

impl DelimitedFile {
    /// Creates `name` below `folder` and writes the headings.
    pub fn create(folder: &Path, name: &str, style: Style, columns: &[Column]) -> Result<Self> {
        let path = folder.join(name);
        let mut stream = Stream::create(&path, style.compression)?;
        stream.write(style.encoding.mark(), &path)?;
        let mut file = Self {
            path,
            name: name.to_string(),
            style,
            stream: Some(stream),
            next_line: 1,
            bytes: Vec::new(),
        };
        let headings: Vec<Cell> = columns.iter().map(|c| Cell::text(&c.name)).collect();
        file.write(&headings, None)?;
        Ok(file)
    }

    fn line(&self, row: &[Cell], damage: Option<RawDamage>) -> String {
        let kept = if damage == Some(RawDamage::Short) {
            row.len().div_ceil(2)
        } else {
            row.len()
        };
        let mut line = String::new();
        for (i, cell) in row.iter().take(kept).enumerate() {
            if i > 0 {
                line.push(self.style.delimiter);
            }
            let text = self.style.locale.render(cell);
            if text.contains(['"', '\n', '\r', self.style.delimiter]) {
                line.push('"');
                line.push_str(&text.replace('"', "\"\""));
                line.push('"');
            } else {
                line.push_str(&text);
            }
        }
        match damage {
            Some(RawDamage::Long) => {
                line.push(self.style.delimiter);
                line.push_str("see");
                line.push(self.style.delimiter);
                line.push_str("overleaf");
            }
            Some(RawDamage::Undecodable) => line.push(UNDECODABLE),
            _ => {}
        }
        line
    }
}

impl Sink for DelimitedFile {
    fn write(&mut self, row: &[Cell], damage: Option<RawDamage>) -> Result<Place> {
        let mut line = self.line(row, damage);
        line.push_str("\r\n");
        let place = Place {
            file: self.name.clone(),
            line: self.next_line,
        };
        self.next_line += line.matches('\n').count() as u64;
        self.bytes.clear();
        self.style.encoding.encode(&line, &mut self.bytes);
        if let Some(stream) = &mut self.stream {
            stream.write(&self.bytes, &self.path)?;
        }
        Ok(place)
    }

    fn can_have(&self) -> &'static [RawDamage] {
        &[RawDamage::Short, RawDamage::Long, RawDamage::Undecodable]
    }

    fn finish(&mut self) -> Result<()> {
        match self.stream.take() {
            Some(stream) => stream.close(&self.path),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::export::cell::{DateStyle, Role, columns};

    fn written(encoding: Encoding, rows: &[(&[Cell], Option<RawDamage>)]) -> (Vec<u8>, Vec<u64>) {
        let dir = tempfile::tempdir().unwrap();
        let style = Style {
            delimiter: ';',
            encoding,
            compression: Compression::None,
            locale: Locale {
                decimal: ',',
                dates: DateStyle::Iso,
            },
        };
        let headings = columns(&[("Zyl geprüft", Role::Other), ("b", Role::Other)]);
        let mut file = DelimitedFile::create(dir.path(), "x/y.csv", style, &headings).unwrap();
        let lines = rows
            .iter()
            .map(|(row, damage)| file.write(row, *damage).unwrap().line)
            .collect();
        file.finish().unwrap();
        (std::fs::read(dir.path().join("x/y.csv")).unwrap(), lines)
    }

    #[test]
    fn quotes_encodes_and_counts_physical_lines() {
        let first = [Cell::text("a;\n\"b\""), Cell::Number(1.5, 1)];
        let second = [Cell::Whole(2), Cell::Empty];
        let (bytes, lines) = written(Encoding::Windows1252, &[(&first, None), (&second, None)]);
        assert_eq!(
            bytes,
            b"Zyl gepr\xfcft;b\r\n\"a;\n\"\"b\"\"\";1,5\r\n2;\r\n"
        );
        assert_eq!(lines, [2, 4]);
    }

    #[test]
    fn damage_is_visible_in_the_bytes() {
        let row = [Cell::text("a"), Cell::text("b")];
        let short = Some(RawDamage::Short);
        let long = Some(RawDamage::Long);
        let (bytes, _) = written(Encoding::Utf8Bom, &[(&row, short), (&row, long)]);
        assert_eq!(&bytes[..3], b"\xef\xbb\xbf");
        assert!(bytes.ends_with(b"\r\na\r\na;b;see;overleaf\r\n"));
        let bad = Some(RawDamage::Undecodable);
        let (bytes, _) = written(Encoding::Utf16Le, &[(&row, bad)]);
        assert!(
            String::from_utf16(
                &bytes[2..]
                    .chunks(2)
                    .map(|p| u16::from_le_bytes([p[0], p[1]]))
                    .collect::<Vec<_>>()
            )
            .is_err()
        );
    }
}
