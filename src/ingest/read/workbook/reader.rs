//! Reads one sheet of a workbook row by row.

use std::fmt::Write as _;
use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use calamine::{
    Data, ExcelDateTime, Ods, Range, Reader, Sheets, Xls, Xlsb, Xlsx, open_workbook_from_rs,
};

use super::super::foreign::guard;
use super::super::format::Format;
use super::super::reader::{Progress, ReadOutcome, RecordReader};
use super::super::record::{CellKind, Header, RawRecord};
use super::super::source::{Meter, head, open_file};
use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};

/// Reader of one sheet of a workbook.
pub struct WorkbookReader {
    range: Range<Data>,
    header: Header,
    /// Row of the range that comes next.
    next: usize,
    any: bool,
    meter: Meter,
    notes: Vec<String>,
}

impl WorkbookReader {
    /// Opens a workbook and reads the sheet named in the format, else the first.
    ///
    /// # Errors
    /// The file cannot be opened, is no workbook, is protected by a password, has no such sheet, or the sheet has no row of
    /// column names.
    pub fn open(path: &Path, format: &Format) -> Result<Self> {
        guard(path, || Self::load(path, format))
    }

    fn load(path: &Path, format: &Format) -> Result<Self> {
        let mut book = open_book(path)?;
        let names = book.sheet_names();
        let mut notes = Vec::new();
        let sheet = choose_sheet(path, &names, format.sheet.as_deref(), &mut notes)?;
        let range = book.worksheet_range(&sheet).map_err(|e| {
            Problem::data(format!("the sheet {sheet:?} cannot be read: {e}"))
                .file(path)
                .remedy("open the workbook, save it again, or save the sheet as delimited text")
        })?;
        let first = range.start().map_or(0, |(row, _)| row as usize);
        let wanted = (format.header_row as usize)
            .saturating_sub(1)
            .saturating_sub(first);
        let header_row = (wanted..range.height())
            .find(|&row| !is_blank(&range, row))
            .ok_or_else(|| {
                Problem::data(format!("the sheet {sheet:?} has no row of column names"))
                    .file(path)
                    .line(u64::from(format.header_row))
                    .remedy(
                        "set `sheet` and `header_row` under [format] to where the column names are",
                    )
            })?;
        let mut record = RawRecord::new();
        fill(&mut record, &range, header_row);
        let (_, total) = open_file(path)?;
        Ok(Self {
            header: Header::new(record.iter(), false),
            range,
            next: header_row + 1,
            any: false,
            meter: Meter::new(total),
            notes,
        })
    }
}

fn choose_sheet(
    path: &Path,
    names: &[String],
    told: Option<&str>,
    notes: &mut Vec<String>,
) -> Result<String> {
    let list = || {
        let quoted: Vec<String> = names.iter().map(|n| format!("{n:?}")).collect();
        quoted.join(", ")
    };
    match told {
        Some(told) => names.iter().find(|n| *n == told).cloned().ok_or_else(|| {
            Problem::data("the workbook has no such sheet")
                .file(path)
                .field("sheet")
                .value(told)
                .remedy(format!("it has {}", list()))
        }),
        None => {
            let first = names.first().cloned().ok_or_else(|| {
                Problem::data("the workbook has no sheet")
                    .file(path)
                    .remedy("export it again")
            })?;
            if names.len() > 1 {
                notes.push(format!("sheet {first:?} read, the first of {}", list()));
            }
            Ok(first)
        }
    }
}

type Book = Sheets<BufReader<File>>;

/// Opens a workbook by what it contains, not by its name.
fn open_book(path: &Path) -> Result<Book> {
    const COMPOUND: &[u8] = &[0xd0, 0xcf, 0x11, 0xe0];
    let head = head(path)?;
    let source = || open_file(path).map(|(file, _)| BufReader::new(file));
    if head.starts_with(COMPOUND) {
        // An encrypted xlsx comes in the same container as an old xls.
        let encrypted = open_workbook_from_rs::<Xlsx<_>, _>(source()?);
        if let Err(calamine::XlsxError::Password) = encrypted {
            return Err(protected(path));
        }
        return open_workbook_from_rs::<Xls<_>, _>(source()?)
            .map(Sheets::Xls)
            .map_err(|e| match e {
                calamine::XlsError::Password => protected(path),
                e => unreadable(path, &e),
            });
    }
    let is_open_document = head
        .windows(b"opendocument".len())
        .any(|w| w == b"opendocument");
    if is_open_document {
        return open_workbook_from_rs::<Ods<_>, _>(source()?)
            .map(Sheets::Ods)
            .map_err(|e| match e {
                calamine::OdsError::Password => protected(path),
                e => unreadable(path, &e),
            });
    }
    match open_workbook_from_rs::<Xlsx<_>, _>(source()?) {
        Ok(book) => Ok(Sheets::Xlsx(book)),
        Err(calamine::XlsxError::Password) => Err(protected(path)),
        Err(e) => match open_workbook_from_rs::<Xlsb<_>, _>(source()?) {
            Ok(book) => Ok(Sheets::Xlsb(book)),
            Err(_) => Err(unreadable(path, &e)),
        },
    }
}

fn protected(path: &Path) -> Problem {
    Problem::data("the workbook is protected by a password")
        .file(path)
        .remedy("save a copy without a password, or save the sheet as delimited text")
}

fn unreadable(path: &Path, e: &dyn std::fmt::Display) -> Problem {
    Problem::data(format!("the workbook cannot be read: {e}"))
        .file(path)
        .remedy("open it, save it again as xlsx or ods, or save the sheet as delimited text")
}

fn is_blank(range: &Range<Data>, row: usize) -> bool {
    (0..range.width()).all(|column| match range.get((row, column)) {
        None | Some(Data::Empty) => true,
        Some(Data::String(text)) => text.trim().is_empty(),
        Some(_) => false,
    })
}

fn fill(record: &mut RawRecord, range: &Range<Data>, row: usize) {
    let first = range.start().map_or(0, |(row, _)| row as usize);
    record.begin((first + row + 1) as u64);
    for column in 0..range.width() {
        push(record, range.get((row, column)).unwrap_or(&Data::Empty));
    }
}

fn push(record: &mut RawRecord, cell: &Data) {
    match cell {
        Data::Empty => record.push(CellKind::Empty, ""),
        Data::String(text) | Data::DurationIso(text) => record.push(CellKind::Text, text),
        Data::Int(n) => record.push_display(CellKind::Number, n),
        Data::Float(n) => record.push_float(*n),
        Data::Bool(true) => record.push(CellKind::Flag, "true"),
        Data::Bool(false) => record.push(CellKind::Flag, "false"),
        Data::DateTime(moment) => push_moment(record, moment),
        Data::DateTimeIso(text) => match text.get(..10).and_then(Day::parse_iso) {
            Some(day) => record.push_display(CellKind::Day, day),
            None => record.push(CellKind::Text, text),
        },
        Data::Error(e) => record.push_display(CellKind::Error, e),
    }
}

fn push_moment(record: &mut RawRecord, moment: &ExcelDateTime) {
    let value = moment.as_f64();
    if moment.is_duration() || value < 1.0 {
        // Seconds in a day; durations of whole hours are common (`[h]:mm`).
        let seconds = (value * 86_400.0).round() as i64;
        let sign = if seconds < 0 { "-" } else { "" };
        let s = seconds.unsigned_abs();
        return record.push_with(CellKind::Text, |text| {
            // Writing to a String cannot fail.
            let _ = write!(text, "{sign}{}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60);
        });
    }
    let (year, month, day, ..) = moment.to_ymd_hms_milli();
    let day = i16::try_from(year)
        .ok()
        .and_then(|year| Day::from_ymd(year, month as i8, day as i8));
    match day {
        Some(day) => record.push_display(CellKind::Day, day),
        // The spreadsheet's own 1900-02-29, which never was.
        None => record.push_display(CellKind::Error, value),
    }
}

impl RecordReader for WorkbookReader {
    fn header(&self) -> &Header {
        &self.header
    }

    fn read(&mut self, record: &mut RawRecord) -> Result<ReadOutcome> {
        let height = self.range.height();
        while self.next < height {
            let row = self.next;
            self.next += 1;
            if is_blank(&self.range, row) {
                continue;
            }
            self.any = true;
            fill(record, &self.range, row);
            let total = self.meter.progress().total;
            self.meter
                .set((total as f64 * self.next as f64 / height as f64) as u64);
            return Ok(ReadOutcome::Record);
        }
        if !self.any {
            self.any = true;
            self.notes
                .push("the sheet has column names but no record".to_string());
        }
        self.meter.set(u64::MAX);
        Ok(ReadOutcome::End)
    }

    fn progress(&self) -> Progress {
        self.meter.progress()
    }

    fn notes(&self) -> &[String] {
        &self.notes
    }
}
