//! An answer's sheet as text, CSV, Markdown, JSON or Parquet; each renderer is a pure function to bytes, only `file` writes.

pub mod csv;
pub mod file;
pub mod json;
pub mod markdown;
pub mod number;
pub mod parquet;
pub mod table;
pub mod workbook;
