//! Parquet files in record batches, each value as the text a delimited export would hold, with its type kept beside it.
//!
//! Dates and timestamps become days; a timestamp with an offset is taken at that offset, one with a named zone in UTC (day
//! precision is enough, and no time-zone database is carried along). Decimals are exact. Columns of lists and structures are
//! not read, and named in the notes.

mod reader;
#[cfg(test)]
mod tests;

pub use reader::ParquetReader;
