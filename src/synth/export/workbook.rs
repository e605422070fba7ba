//! Workbooks with several sheets, real days and real numbers. A workbook is closed when it is full, so that memory stays flat.

use std::path::{Path, PathBuf};

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook, XlsxError};

use crate::domain::problem::{AtFile, Result};
use crate::synth::calendar;
use crate::synth::export::cell::{Cell, Column};
use crate::synth::export::sink::Place;

/// Rows of one sheet after which the next workbook is begun.
const FULL: u32 = 40_000;

/// A sheet of each workbook.
pub struct Sheet {
    /// Its name.
    pub name: &'static str,
    /// Its columns.
    pub columns: Vec<Column>,
}

/// Numbered workbooks `stem-001.xlsx`, `stem-002.xlsx`, ... with the same sheets.
pub struct WorkbookFiles {
    folder: PathBuf,
    stem: String,
    sheets: Vec<Sheet>,
    open: Option<(Workbook, Vec<u32>)>,
    number: u32,
    date: Format,
}

impl WorkbookFiles {
    /// Nothing is written before the first row.
    pub fn new(folder: &Path, stem: &str, sheets: Vec<Sheet>) -> Self {
        Self {
            folder: folder.to_path_buf(),
            stem: stem.to_string(),
            sheets,
            open: None,
            number: 0,
            date: Format::new().set_num_format("yyyy-mm-dd"),
        }
    }

    /// The columns of a sheet.
    pub fn columns(&self, sheet: usize) -> Vec<Column> {
        self.sheets
            .get(sheet)
            .map(|s| s.columns.clone())
            .unwrap_or_default()
    }

    fn name(&self) -> String {
        format!("{}-{:03}.xlsx", self.stem, self.number)
    }

    fn begin(&mut self) -> std::result::Result<(Workbook, Vec<u32>), XlsxError> {
        let mut book = Workbook::new();
        // The time of writing would make every run a different file.
        let created = ExcelDateTime::from_ymd(2000, 1, 1)?;
        book.set_properties(&DocProperties::new().set_creation_datetime(&created));
        for sheet in &self.sheets {
            let page = book.add_worksheet();
            page.set_name(sheet.name)?;
            for (i, column) in sheet.columns.iter().enumerate() {
                page.write_string(0, i as u16, &column.name)?;
            }
        }
        Ok((book, vec![1; self.sheets.len()]))
    }

    /// Writes a row to a sheet.
    pub fn write(&mut self, sheet: usize, row: &[Cell]) -> Result<Place> {
        let full = self
            .open
            .as_ref()
            .is_some_and(|(_, rows)| rows.iter().any(|r| *r > FULL));
        if full {
            self.finish()?;
        }
        if self.open.is_none() {
            self.number += 1;
            let path = self.folder.join(self.name());
            self.open = Some(self.begin().at_file("begin the workbook", &path)?);
        }
        let path = self.folder.join(self.name());
        let mut at = 0;
        if let Some((book, rows)) = &mut self.open {
            if let Some(next) = rows.get_mut(sheet) {
                at = *next;
                *next += 1;
            }
            fill(book, sheet, at, row, &self.date).at_file("write the workbook", &path)?;
        }
        let heading = self.sheets.get(sheet).map_or("", |s| s.name);
        Ok(Place {
            file: format!("{}#{heading}", self.name()),
            line: u64::from(at) + 1,
        })
    }

    /// Saves the workbook under way.
    pub fn finish(&mut self) -> Result<()> {
        let path = self.folder.join(self.name());
        if let Some((mut book, _)) = self.open.take() {
            if let Some(folder) = path.parent() {
                std::fs::create_dir_all(folder).at_file("create the folder", folder)?;
            }
            book.save(&path).at_file("save the workbook", &path)?;
        }
        Ok(())
    }
}

fn fill(
    book: &mut Workbook,
    sheet: usize,
    at: u32,
    row: &[Cell],
    date: &Format,
) -> std::result::Result<(), XlsxError> {
    let page = book.worksheet_from_index(sheet)?;
    for (i, cell) in row.iter().enumerate() {
        let column = i as u16;
        match cell {
            Cell::Empty => continue,
            Cell::Text(text) => page.write_string(at, column, text)?,
            Cell::Whole(n) => page.write_number(at, column, *n as f64)?,
            Cell::Number(v, decimals) => {
                let scale = 10f64.powi(i32::from(*decimals));
                page.write_number(at, column, (v * scale).round() / scale)?
            }
            Cell::Day(day) => {
                let (y, m, d) = calendar::parts(*day);
                let value = ExcelDateTime::from_ymd(y as u16, m, d)?;
                page.write_datetime_with_format(at, column, &value, date)?
            }
        };
    }
    Ok(())
}
