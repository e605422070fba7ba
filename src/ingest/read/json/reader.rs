//! Reads JSON record by record: the file is cut into objects first, and each object understood on its own.

use std::path::Path;

use super::super::encoding::undecodable;
use super::super::format::{Encoding, Format};
use super::super::reader::{
    Damage, DamageReason, Progress, RECORD_LIMIT, ReadOutcome, RecordReader, visible,
};
use super::super::record::{Header, RawRecord};
use super::super::source::{Window, first_line, line_ends};
use super::columns::Columns;
use super::extent::{Extent, value_extent};
use super::flatten::flatten;
use crate::domain::problem::{Problem, Result};

/// How many records at the start give the first header.
const SAMPLE: usize = 1000;

/// How the objects lie in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Layout {
    /// One a line.
    Lines,
    /// In arrays, or one after the other.
    Array,
}

/// Reader of JSON lines and JSON arrays.
pub struct JsonReader {
    window: Window,
    layout: Layout,
    encoding: Encoding,
    columns: Columns,
    line: u64,
    /// Inside an array whose end has not come.
    inside: bool,
    /// Blanks before the window's rest in its line, if there is nothing else.
    indent: Option<usize>,
    /// The last byte passed was a CR.
    after_cr: bool,
    any: bool,
    ended: bool,
    stack: Vec<u8>,
    notes: Vec<String>,
}

/// What lies at the start of the window.
enum Piece {
    /// Bytes between records.
    Between { bytes: usize, opens: Option<bool> },
    /// A record of so many bytes, and the bytes to move on.
    Value { content: usize, next: usize },
    /// A record without an end.
    Broken,
    /// Needs more bytes.
    NeedMore,
}

impl JsonReader {
    /// Opens a file of one object a line.
    ///
    /// # Errors
    /// The file cannot be opened or is empty.
    pub fn open_lines(path: &Path, format: &Format) -> Result<Self> {
        Self::open(path, format, Layout::Lines)
    }

    /// Opens a file of an array of objects.
    ///
    /// # Errors
    /// The file cannot be opened, is empty, or does not begin like JSON.
    pub fn open_array(path: &Path, format: &Format) -> Result<Self> {
        Self::open(path, format, Layout::Array)
    }

    fn open(path: &Path, format: &Format, layout: Layout) -> Result<Self> {
        let (window, encoding) = Window::open(path, format.compression, format.encoding)?;
        let first = window.rest().iter().find(|b| !b.is_ascii_whitespace());
        if !matches!(first, Some(b'{' | b'[')) {
            return Err(Problem::data("the file does not begin like JSON")
                .file(path)
                .remedy("set `kind` under [format] in the mapping to what the file is"));
        }
        let mut reader = Self {
            window,
            layout,
            encoding,
            columns: Columns::new(),
            line: 1,
            inside: false,
            indent: None,
            after_cr: false,
            any: false,
            ended: false,
            stack: Vec::new(),
            notes: Vec::new(),
        };
        reader.sample();
        Ok(reader)
    }

    /// Collects the names of the first records without moving on.
    fn sample(&mut self) {
        let (mut offset, mut record) = (0, RawRecord::new());
        let inside = self.inside;
        for _ in 0..SAMPLE {
            let rest = self.window.rest().get(offset..).unwrap_or(&[]);
            let at_end = self.window.at_end();
            match piece(self.layout, self.inside, rest, at_end, &mut self.stack) {
                Piece::Between { bytes, opens } => {
                    self.inside = opens.unwrap_or(self.inside);
                    offset += bytes;
                }
                Piece::Value { content, next } => {
                    record.begin(1);
                    if let Some(Ok(text)) = rest.get(..content).map(std::str::from_utf8) {
                        // Damage is told when the record is read; here only its names count.
                        let _ = flatten(text, &mut self.columns, &mut record);
                    }
                    offset += next;
                }
                Piece::Broken | Piece::NeedMore => break,
            }
            if rest.is_empty() {
                break;
            }
        }
        self.inside = inside;
    }

    fn next(&mut self, record: &mut RawRecord) -> Result<ReadOutcome> {
        loop {
            let rest = self.window.rest();
            let at_end = self.window.at_end();
            if rest.is_empty() && at_end {
                return Ok(self.end());
            }
            let (content, next) =
                match piece(self.layout, self.inside, rest, at_end, &mut self.stack) {
                    Piece::Between { bytes, opens } => {
                        self.inside = opens.unwrap_or(self.inside);
                        self.move_on(bytes);
                        continue;
                    }
                    Piece::NeedMore if self.window.more()? => continue,
                    Piece::NeedMore | Piece::Broken => return self.resume(),
                    Piece::Value { content, .. } if content >= RECORD_LIMIT => {
                        return self.resume();
                    }
                    Piece::Value { content, next } => (content, next),
                };
            let bytes = self.window.rest().get(..content).unwrap_or(&[]);
            let read = match std::str::from_utf8(bytes) {
                Err(e) => Err((
                    DamageReason::UndecodableBytes,
                    undecodable(bytes, &e, self.encoding),
                )),
                Ok(text) => {
                    record.begin(self.line);
                    record.set_raw(text);
                    flatten(text, &mut self.columns, record)
                }
            };
            let outcome = match read {
                Ok(()) => ReadOutcome::Record,
                Err((reason, detail)) => self.damage(reason, detail, content),
            };
            self.move_on(next);
            return Ok(outcome);
        }
    }

    /// The end of the file, after saying once that an array was not closed.
    fn end(&mut self) -> ReadOutcome {
        if !self.inside {
            return ReadOutcome::End;
        }
        self.inside = false;
        let detail = "the file ends before the array does; what came after is missing";
        self.damage(DamageReason::CutOff, detail.to_string(), 0)
    }

    fn damage(&self, reason: DamageReason, detail: String, content: usize) -> ReadOutcome {
        ReadOutcome::Damaged(Damage {
            line: self.line,
            reason,
            detail,
            raw: visible(self.window.rest().get(..content).unwrap_or(&[])),
        })
    }

    /// Counts the lines of what is passed.
    fn move_on(&mut self, bytes: usize) {
        let passed = self.window.rest().get(..bytes).unwrap_or(&[]);
        // A CR and its LF may have been passed one after the other.
        let second_half = self.after_cr && passed.first() == Some(&b'\n');
        self.line += line_ends(passed) - u64::from(second_half);
        self.after_cr = match passed.last() {
            Some(last) => *last == b'\r',
            None => self.after_cr,
        };
        self.indent = match memchr::memrchr2(b'\n', b'\r', passed) {
            Some(at) if passed.iter().skip(at).all(u8::is_ascii_whitespace) => {
                Some(passed.len() - at - 1)
            }
            _ => None,
        };
        self.window.consume(bytes);
    }

    /// After a record that has no end within the limit: goes on with the next line that begins an object as far in as this
    /// one, or the end of the file.
    fn resume(&mut self) -> Result<ReadOutcome> {
        while self.window.rest().len() < RECORD_LIMIT && self.window.more()? {}
        let rest = self.window.rest();
        let at_end = self.window.at_end();
        let within = rest.get(..RECORD_LIMIT).unwrap_or(rest);
        let next_object = match self.layout {
            Layout::Lines => None,
            Layout::Array => next_object_line(within, self.indent),
        };
        let (reason, detail) = match next_object {
            Some(_) => (DamageReason::InvalidJson, "the record does not end"),
            None if at_end && rest.len() < RECORD_LIMIT => {
                self.inside = false;
                (DamageReason::CutOff, "the file ends before the record does")
            }
            None => (
                DamageReason::RecordTooLong,
                "a record of 1 MiB or more; only its beginning is kept",
            ),
        };
        let content = next_object.unwrap_or(within.len());
        let damage = self.damage(reason, detail.to_string(), content);
        match (next_object, reason) {
            (Some(bytes), _) => self.move_on(bytes),
            (None, DamageReason::CutOff) => self.move_on(content),
            (None, _) => self.skip_line()?,
        }
        Ok(damage)
    }

    fn skip_line(&mut self) -> Result<()> {
        loop {
            let rest = self.window.rest();
            let at_end = self.window.at_end();
            match first_line(rest, at_end) {
                Some((_, next)) => {
                    self.move_on(next);
                    return Ok(());
                }
                None if at_end => return Ok(()),
                None => {
                    if !self.window.more()? {
                        // The last byte stays: it may be the first half of a line end.
                        let bytes = self.window.rest().len().saturating_sub(1);
                        self.move_on(bytes);
                    }
                }
            }
        }
    }
}

/// Bytes up to the next line that begins an object, as far in as `indent` if that is known.
fn next_object_line(bytes: &[u8], indent: Option<usize>) -> Option<usize> {
    let mut passed = 0;
    loop {
        passed += first_line(bytes.get(passed..)?, false)?.1;
        let line = bytes.get(passed..)?;
        let blanks = line
            .iter()
            .take_while(|b| matches!(b, b' ' | b'\t'))
            .count();
        if line.get(blanks) == Some(&b'{') && indent.is_none_or(|i| i == blanks) {
            return Some(passed);
        }
    }
}

/// Looks at what lies at the start of the window.
fn piece(layout: Layout, inside: bool, rest: &[u8], at_end: bool, stack: &mut Vec<u8>) -> Piece {
    let blank = rest.iter().take_while(|b| b.is_ascii_whitespace()).count();
    if blank > 0 {
        return Piece::Between {
            bytes: blank,
            opens: None,
        };
    }
    if layout == Layout::Lines {
        return match first_line(rest, at_end) {
            Some((content, next)) => Piece::Value { content, next },
            None => Piece::NeedMore,
        };
    }
    let between = |opens| Piece::Between { bytes: 1, opens };
    match rest.first() {
        Some(b',') if inside => return between(None),
        Some(b'[') if !inside => return between(Some(true)),
        Some(b']') if inside => return between(Some(false)),
        _ => {}
    }
    match value_extent(rest, stack) {
        // A closing bracket that closes nothing.
        Extent::Whole(0) => Piece::Value {
            content: 1,
            next: 1,
        },
        Extent::Whole(bytes) => Piece::Value {
            content: bytes,
            next: bytes,
        },
        Extent::Open if at_end => Piece::Broken,
        Extent::Open => Piece::NeedMore,
        Extent::Mismatch => Piece::Broken,
    }
}

impl RecordReader for JsonReader {
    fn header(&self) -> &Header {
        self.columns.header()
    }

    fn read(&mut self, record: &mut RawRecord) -> Result<ReadOutcome> {
        let outcome = self.next(record)?;
        if outcome != ReadOutcome::End {
            self.any = true;
        } else if !self.ended {
            self.ended = true;
            if !self.any {
                self.notes.push("the file has no record".to_string());
            }
            self.notes.extend(self.columns.never_seen());
        }
        Ok(outcome)
    }

    fn progress(&self) -> Progress {
        self.window.progress()
    }

    fn notes(&self) -> &[String] {
        &self.notes
    }

    fn column(&mut self, name: &str) -> Option<usize> {
        if let Some(column) = self.columns.header().index(name) {
            return Some(column);
        }
        self.columns.ask(name)
    }
}
