//! Reads delimited text record by record, with the damage rules of the folder's documentation.

use std::path::Path;

use super::super::encoding::undecodable;
use super::super::format::{Encoding, Format};
use super::super::reader::{
    Damage, DamageReason, Progress, RECORD_LIMIT, ReadOutcome, RecordReader, visible,
};
use super::super::record::{Header, RawRecord};
use super::super::source::{Window, first_line};
use super::detect::{delimiter_name, detect_delimiter};
use super::split::{Found, split};
use crate::domain::problem::{Problem, Result};

/// Reader of delimited text.
pub struct DelimitedReader {
    window: Window,
    delimiter: u8,
    encoding: Encoding,
    header: Header,
    /// `None` while the header itself is read.
    widths: Option<Widths>,
    /// Whether anything was read after the header.
    any: bool,
    /// The physical line at the start of the window's rest.
    line: u64,
    doubled: Vec<usize>,
    notes: Vec<String>,
}

impl DelimitedReader {
    /// Opens the file and reads its header.
    ///
    /// # Errors
    /// The file cannot be opened, is empty or no text, or its header line cannot be read.
    pub fn open(path: &Path, format: &Format) -> Result<Self> {
        let (window, encoding) = Window::open(path, format.compression, format.encoding)?;
        let mut notes = Vec::new();
        if format.encoding != Some(encoding) && encoding != Encoding::Utf8 {
            notes.push(format!(
                "encoding {} found from the first bytes",
                encoding.id()
            ));
        }
        let mut reader = Self {
            window,
            delimiter: b',',
            encoding,
            header: Header::default(),
            widths: None,
            any: false,
            line: 1,
            doubled: Vec::new(),
            notes,
        };
        reader.refuse_binary()?;
        for _ in 1..format.header_row {
            reader.skip_line()?;
        }
        reader.skip_blank_lines()?;
        reader.choose_delimiter(format.delimiter);
        reader.read_header()?;
        Ok(reader)
    }

    fn refuse_binary(&self) -> Result<()> {
        let head = self.window.rest();
        let head = head.get(..4096).unwrap_or(head);
        let controls = head
            .iter()
            .filter(|b| matches!(b, 0..=8 | 14..=26 | 28..=31))
            .count();
        if controls > 8 && controls * 20 > head.len() {
            return Err(Problem::data("this file is not text")
                .file(self.window.path())
                .remedy("export as delimited text, JSON, a workbook or Parquet, or set `kind` and `encoding` under [format]"));
        }
        Ok(())
    }

    fn choose_delimiter(&mut self, told: Option<u8>) {
        let found = detect_delimiter(self.window.rest(), self.window.at_end());
        match (told, found) {
            (Some(told), _) => self.delimiter = told,
            (None, Some(found)) => {
                self.delimiter = found;
                self.notes.push(format!(
                    "delimiter {:?} found from the first lines",
                    delimiter_name(found)
                ));
            }
            (None, None) => self
                .notes
                .push("no delimiter found in the first lines: read as one column".to_string()),
        }
    }

    fn read_header(&mut self) -> Result<()> {
        let path = self.window.path().to_path_buf();
        let line = self.line;
        let wrong = |what: String| Problem::data(what).file(&path).line(line);
        let mut record = RawRecord::new();
        match self.next(&mut record)? {
            ReadOutcome::Record => {}
            ReadOutcome::Damaged(d) => {
                return Err(wrong(format!(
                    "the line of column names cannot be read: {}",
                    d.detail
                ))
                .remedy(d.reason.remedy()));
            }
            ReadOutcome::End => {
                return Err(wrong("there is no line of column names".to_string())
                    .remedy("set `header_row` under [format] to the line with the column names"));
            }
        }
        self.header = Header::new(record.iter(), false);
        let required = record
            .iter()
            .enumerate()
            .filter(|(_, name)| !name.trim().is_empty())
            .map(|(i, _)| i + 1)
            .last()
            .unwrap_or(0);
        self.widths = Some(Widths {
            required,
            total: self.header.len(),
        });
        if self.header.len() == 1
            && let Some(other) = detect_delimiter(record.get(0).as_bytes(), true)
        {
            self.notes.push(format!(
                "the header is a single column with the delimiter {:?}; is it {:?} instead?",
                delimiter_name(self.delimiter),
                delimiter_name(other)
            ));
        }
        Ok(())
    }

    fn skip_line(&mut self) -> Result<()> {
        loop {
            if let Some((_, next)) = first_line(self.window.rest(), self.window.at_end()) {
                self.window.consume(next);
                self.line += 1;
                return Ok(());
            }
            if self.window.at_end() {
                return Ok(());
            }
            if !self.window.more()? {
                // The last byte stays: it may be the first half of a line end.
                self.window
                    .consume(self.window.rest().len().saturating_sub(1));
            }
        }
    }

    fn skip_blank_lines(&mut self) -> Result<()> {
        loop {
            let rest = self.window.rest();
            match first_line(rest, self.window.at_end()) {
                Some((content, next)) if rest.iter().take(content).all(u8::is_ascii_whitespace) => {
                    self.window.consume(next);
                    self.line += 1;
                }
                Some(_) => return Ok(()),
                None if !self.window.more()? => return Ok(()),
                None => {}
            }
        }
    }

    /// Reads one record; before the header is known any width is right.
    fn next(&mut self, record: &mut RawRecord) -> Result<ReadOutcome> {
        loop {
            let rest = self.window.rest();
            let at_end = self.window.at_end();
            if rest.is_empty() && at_end {
                return Ok(ReadOutcome::End);
            }
            record.begin(self.line);
            self.doubled.clear();
            let found = split(rest, at_end, self.delimiter, record, &mut self.doubled);
            let (content, next, inner_lines) = match found {
                Found::NeedMore if self.window.more()? => continue,
                Found::NeedMore | Found::BadQuote => return self.broken_off(),
                Found::Record { content, .. } if content >= RECORD_LIMIT => {
                    return self.broken_off();
                }
                Found::Record {
                    content,
                    next,
                    inner_lines,
                } => (content, next, inner_lines),
            };
            let bytes = self.window.rest().get(..content).unwrap_or(&[]);
            if is_blank(bytes, self.delimiter) {
                self.window.consume(next);
                self.line += 1;
                continue;
            }
            match judge(bytes, record, self.encoding, self.widths) {
                Ok(text) => {
                    record.set_raw(text);
                    for column in self.doubled.drain(..) {
                        record.unescape(column);
                    }
                    self.window.consume(next);
                    self.line += 1 + inner_lines;
                    return Ok(ReadOutcome::Record);
                }
                // Quotes that pair up by accident span lines that do not belong together.
                Err((reason, detail)) if inner_lines > 0 && is_ragged(reason) => {
                    return self.damaged_line(reason, detail);
                }
                Err((reason, detail)) => {
                    let damage = self.damage(reason, detail, content);
                    self.window.consume(next);
                    self.line += 1 + inner_lines;
                    return Ok(damage);
                }
            }
        }
    }

    fn damage(&self, reason: DamageReason, detail: String, content: usize) -> ReadOutcome {
        let bytes = self.window.rest().get(..content).unwrap_or(&[]);
        ReadOutcome::Damaged(Damage {
            line: self.line,
            reason,
            detail,
            raw: visible(bytes),
        })
    }

    /// A record without an end within the limit: its first line is damaged, and reading goes on with the next line.
    fn broken_off(&mut self) -> Result<ReadOutcome> {
        let detail = "a quoted cell does not end, or goes on after its closing quote";
        self.damaged_line(DamageReason::UnbalancedQuote, detail.to_string())
    }

    fn damaged_line(&mut self, reason: DamageReason, detail: String) -> Result<ReadOutcome> {
        // The line may go on beyond what is in the window.
        while first_line(self.window.rest(), self.window.at_end()).is_none()
            && self.window.more()?
        {}
        let damage = match first_line(self.window.rest(), self.window.at_end()) {
            Some((content, _)) if content < RECORD_LIMIT => self.damage(reason, detail, content),
            _ => self.damage(
                DamageReason::RecordTooLong,
                format!("a line of {RECORD_LIMIT} bytes or more; only its beginning is kept"),
                RECORD_LIMIT,
            ),
        };
        self.skip_line()?;
        Ok(damage)
    }
}

impl RecordReader for DelimitedReader {
    fn header(&self) -> &Header {
        &self.header
    }

    fn read(&mut self, record: &mut RawRecord) -> Result<ReadOutcome> {
        let outcome = self.next(record)?;
        match outcome {
            ReadOutcome::End if !self.any => {
                self.any = true;
                self.notes
                    .push("the file has column names but no record".to_string());
            }
            _ => self.any = true,
        }
        Ok(outcome)
    }

    fn progress(&self) -> Progress {
        self.window.progress()
    }

    fn notes(&self) -> &[String] {
        &self.notes
    }
}

/// Nothing but delimiters and blanks: an empty row of a spreadsheet, or an empty line.
fn is_blank(bytes: &[u8], delimiter: u8) -> bool {
    bytes
        .iter()
        .all(|&b| b == delimiter || b == b' ' || b == b'\t')
}

fn is_ragged(reason: DamageReason) -> bool {
    matches!(
        reason,
        DamageReason::TooFewCells | DamageReason::TooManyCells
    )
}

/// Cells a record must and may have.
#[derive(Debug, Clone, Copy)]
struct Widths {
    /// Up to the last column with a name.
    required: usize,
    /// All columns of the header.
    total: usize,
}

/// The record as text if it is whole; cuts empty cells beyond the header.
fn judge<'a>(
    bytes: &'a [u8],
    record: &mut RawRecord,
    encoding: Encoding,
    widths: Option<Widths>,
) -> std::result::Result<&'a str, (DamageReason, String)> {
    let text = std::str::from_utf8(bytes).map_err(|e| {
        let detail = undecodable(bytes, &e, encoding);
        (DamageReason::UndecodableBytes, detail)
    })?;
    if let Some(at) = memchr::memchr(0, bytes) {
        let detail = format!("a zero byte at position {}", at + 1);
        return Err((DamageReason::ZeroByte, detail));
    }
    let Some(widths) = widths else {
        return Ok(text);
    };
    let found = record.len();
    if found < widths.required {
        let detail = format!("{found} cells where the header has {}", widths.required);
        return Err((DamageReason::TooFewCells, detail));
    }
    if found > widths.total {
        let surplus_is_empty = record
            .ranges()
            .skip(widths.total)
            .all(|r| text.get(r).is_none_or(|cell| cell.trim().is_empty()));
        if !surplus_is_empty {
            let detail = format!("{found} cells where the header has {}", widths.total);
            return Err((DamageReason::TooManyCells, detail));
        }
        record.truncate(widths.total);
    }
    Ok(text)
}
