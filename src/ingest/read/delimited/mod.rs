//! Delimited text: one record a line, cells apart by one mark, cells in double quotes where they hold the mark or a line end.

mod detect;
mod reader;
mod split;
#[cfg(test)]
mod tests;

pub use reader::DelimitedReader;
