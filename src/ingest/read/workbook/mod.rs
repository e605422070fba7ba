//! Workbooks: xlsx, xlsb, xls and ods; one sheet, its rows as records, formulas by their stored results.
//!
//! The library loads the sheet that is read into memory (an ods file: all its sheets). A sheet has at most about a million
//! rows, so this is bounded, but larger than for the other formats: count on some hundred bytes a cell.
//!
//! Real dates become days, whichever epoch (1900 or 1904) the workbook counts from. A time without a date, or a duration, is
//! text such as `7:30:00`. A cell in error keeps its mark (`#N/A`) and is told apart by `CellKind::Error`.

mod reader;
#[cfg(test)]
mod tests;

pub use reader::WorkbookReader;
