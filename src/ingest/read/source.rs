//! The bytes of an exported file: opened with clear messages, decompressed, counted for the progress bar, and handed out
//! in large pieces in which a whole record is always contiguous.

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use super::encoding::Transcoder;
use super::format::{Compression, Encoding};
use super::reader::{Progress, RECORD_LIMIT};
use crate::domain::problem::{Problem, Result};

/// Bytes asked for at a time.
const CHUNK: usize = 1 << 20;

/// Bytes needed behind a record of the longest length to see that it has ended.
const SLACK: usize = 2;

/// Bytes looked at to detect compression, encoding and kind.
const HEAD: usize = 4096;

/// Counts what is read from the file on disk.
#[derive(Debug, Clone)]
pub(super) struct Meter {
    read: Arc<AtomicU64>,
    total: u64,
}

impl Meter {
    pub(super) fn new(total: u64) -> Self {
        Self {
            read: Arc::new(AtomicU64::new(0)),
            total,
        }
    }

    pub(super) fn set(&self, read: u64) {
        self.read.store(read.min(self.total), Ordering::Relaxed);
    }

    pub(super) fn progress(&self) -> Progress {
        Progress {
            read: self.read.load(Ordering::Relaxed),
            total: self.total,
        }
    }
}

struct Counted {
    file: File,
    meter: Meter,
}

impl Read for Counted {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let n = self.file.read(buffer)?;
        self.meter.read.fetch_add(n as u64, Ordering::Relaxed);
        Ok(n)
    }
}

/// Opens a file for reading; the messages tell apart what is not there, a folder, and an empty file.
pub(super) fn open_file(path: &Path) -> Result<(File, u64)> {
    let meta = std::fs::metadata(path).map_err(|e| match e.kind() {
        io::ErrorKind::NotFound => Problem::data("there is no such file")
            .file(path)
            .remedy("check the path, or `files` in the mapping"),
        _ => Problem::data(format!("could not look at the file: {e}")).file(path),
    })?;
    if meta.is_dir() {
        return Err(Problem::data("this is a folder, not an exported file")
            .file(path)
            .remedy("name the files in it, for instance with a pattern such as \"north/*.csv\""));
    }
    if meta.len() == 0 {
        return Err(Problem::data("the file is empty")
            .file(path)
            .remedy("export it again; at least the line of column names is needed"));
    }
    let file = File::open(path).map_err(|e| {
        Problem::data(format!("could not open the file: {e}"))
            .file(path)
            .remedy("check that you may read it and that no other program holds it")
    })?;
    Ok((file, meta.len()))
}

/// The first bytes of a file, as they are on disk.
pub(super) fn head(path: &Path) -> Result<Vec<u8>> {
    let (file, _) = open_file(path)?;
    let mut head = Vec::with_capacity(HEAD);
    file.take(HEAD as u64)
        .read_to_end(&mut head)
        .map_err(|e| Problem::data(format!("could not read the file: {e}")).file(path))?;
    Ok(head)
}

/// Compression by the first bytes (RFC 1952, RFC 8878).
pub(super) fn compression_of(head: &[u8]) -> Compression {
    match head {
        [0x1f, 0x8b, ..] => Compression::Gzip,
        [0x28, 0xb5, 0x2f, 0xfd, ..] => Compression::Zstd,
        // A skippable frame may come first.
        [0x50..=0x5f, 0x2a, 0x4d, 0x18, ..] => Compression::Zstd,
        _ => Compression::None,
    }
}

/// The file's decompressed bytes.
pub(super) fn open_bytes(
    path: &Path,
    compression: Option<Compression>,
) -> Result<(Box<dyn Read + Send>, Meter)> {
    let compression = match compression {
        Some(c) => c,
        None => compression_of(&head(path)?),
    };
    let (file, total) = open_file(path)?;
    let meter = Meter::new(total);
    let counted = Counted {
        file,
        meter: meter.clone(),
    };
    let bytes: Box<dyn Read + Send> = match compression {
        Compression::None => Box::new(counted),
        Compression::Gzip => Box::new(flate2::bufread::MultiGzDecoder::new(
            BufReader::with_capacity(CHUNK / 4, counted),
        )),
        Compression::Zstd => Box::new(
            zstd::stream::read::Decoder::new(counted)
                .map_err(|e| Problem::data(format!("could not start zstd: {e}")).file(path))?,
        ),
    };
    Ok((bytes, meter))
}

/// A window over the file's text in UTF-8. What could not be decoded is left in it as bytes that are no UTF-8, so that
/// the one check of each record finds it.
pub(super) struct Window {
    path: PathBuf,
    bytes: Box<dyn Read + Send>,
    meter: Meter,
    buffer: Vec<u8>,
    start: usize,
    end: usize,
    at_end: bool,
}

impl Window {
    /// Opens a text file and fills the first piece; gives the encoding in use and whether it was told or found.
    pub(super) fn open(
        path: &Path,
        compression: Option<Compression>,
        told: Option<Encoding>,
    ) -> Result<(Self, Encoding)> {
        let (mut bytes, meter) = open_bytes(path, compression)?;
        let mut head = Vec::with_capacity(HEAD);
        (&mut bytes)
            .take(HEAD as u64)
            .read_to_end(&mut head)
            .map_err(|e| broken(path, &e))?;
        let (encoding, mark) = super::encoding::detect(&head, told);
        let rest = io::Cursor::new(head.split_off(mark.min(head.len()))).chain(bytes);
        let bytes: Box<dyn Read + Send> = match encoding {
            Encoding::Utf8 => Box::new(rest),
            other => Box::new(Transcoder::new(rest, other)),
        };
        let mut window = Self {
            path: path.to_path_buf(),
            bytes,
            meter,
            buffer: vec![0; CHUNK + RECORD_LIMIT + SLACK],
            start: 0,
            end: 0,
            at_end: false,
        };
        window.more()?;
        Ok((window, encoding))
    }

    /// What is in the window and not yet consumed.
    pub(super) fn rest(&self) -> &[u8] {
        self.buffer.get(self.start..self.end).unwrap_or(&[])
    }

    /// True when nothing comes after `rest`.
    pub(super) fn at_end(&self) -> bool {
        self.at_end
    }

    /// Moves on by so many bytes.
    pub(super) fn consume(&mut self, bytes: usize) {
        self.start = (self.start + bytes).min(self.end);
    }

    /// Brings more bytes behind `rest`; `false` if `rest` already holds `RECORD_LIMIT` bytes, or the file has ended.
    pub(super) fn more(&mut self) -> Result<bool> {
        if self.at_end || self.end - self.start >= RECORD_LIMIT + SLACK {
            return Ok(false);
        }
        self.buffer.copy_within(self.start..self.end, 0);
        self.end -= self.start;
        self.start = 0;
        let until = (self.end + CHUNK).min(self.buffer.len());
        while let Some(free) = self
            .buffer
            .get_mut(self.end..until)
            .filter(|f| !f.is_empty())
        {
            match self.bytes.read(free) {
                Ok(0) => {
                    self.at_end = true;
                    break;
                }
                Ok(n) => self.end += n,
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                Err(e) => return Err(broken(&self.path, &e)),
            }
        }
        Ok(true)
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    pub(super) fn progress(&self) -> Progress {
        self.meter.progress()
    }
}

fn broken(path: &Path, e: &io::Error) -> Problem {
    Problem::data(format!("the file cannot be read further: {e}"))
        .file(path)
        .remedy("if it is compressed it was cut off or damaged on its way: copy or export it again")
}

/// Length of the first physical line without and with its end (LF, CRLF or CR); `None` if it does not end here.
pub(super) fn first_line(bytes: &[u8], at_end: bool) -> Option<(usize, usize)> {
    match memchr::memchr2(b'\n', b'\r', bytes) {
        Some(i) if bytes.get(i) == Some(&b'\n') => Some((i, i + 1)),
        Some(i) => match bytes.get(i + 1) {
            Some(b'\n') => Some((i, i + 2)),
            Some(_) => Some((i, i + 1)),
            None if at_end => Some((i, i + 1)),
            None => None,
        },
        None if at_end && !bytes.is_empty() => Some((bytes.len(), bytes.len())),
        None => None,
    }
}

/// How many line ends (LF, CRLF or CR) are in these bytes.
pub(super) fn line_ends(bytes: &[u8]) -> u64 {
    let mut ends = 0;
    for i in memchr::memchr2_iter(b'\n', b'\r', bytes) {
        let second_half = bytes.get(i) == Some(&b'\n') && i > 0 && bytes.get(i - 1) == Some(&b'\r');
        ends += u64::from(!second_half);
    }
    ends
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_all_three_line_ends() {
        assert_eq!(line_ends(b"a\r\nb\nc\rd\r\r\n\n"), 6);
        assert_eq!(first_line(b"ab\r\nc", false), Some((2, 4)));
        assert_eq!(first_line(b"ab\r", false), None);
        assert_eq!(first_line(b"ab\r", true), Some((2, 3)));
        assert_eq!(first_line(b"ab", true), Some((2, 2)));
        assert_eq!(first_line(b"", true), None);
    }

    #[test]
    fn tells_missing_folder_and_empty_apart() {
        let dir = tempfile::tempdir().unwrap();
        let empty = dir.path().join("empty.csv");
        std::fs::write(&empty, "").unwrap();
        for (path, part) in [
            (dir.path().join("none.csv"), "no such file"),
            (dir.path().to_path_buf(), "folder"),
            (empty, "empty"),
        ] {
            let message = open_file(&path).unwrap_err().to_string();
            assert!(message.contains(part), "{message}");
            assert!(message.contains("way out"), "{message}");
        }
    }
}
