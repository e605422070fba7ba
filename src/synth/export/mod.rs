//! Export habits: the same lives written the way five different systems would, each with its mapping file.

pub mod cell;
pub mod delimited;
pub mod file_set;
pub mod fleet_polls;
pub mod habit;
pub mod json_lines;
pub mod mapping;
pub mod monthly_files;
mod monthly_mapping;
pub mod nested_records;
pub mod roster;
pub mod sink;
mod wide_mapping;
pub mod wide_orders;
pub mod words;
pub mod workbook;
pub mod workbook_jobs;
