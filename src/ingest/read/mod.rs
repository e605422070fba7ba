//! Reading exported files of any format into one stream of raw records, with memory that does not grow with the file.

mod delimited;
mod encoding;
mod format;
mod json;
mod open;
mod reader;
mod record;
mod source;

pub use delimited::DelimitedReader;
pub use format::{Compression, DateOrder, Encoding, FileKind, Format};
pub use json::JsonReader;
pub use open::open;
pub use reader::{Damage, DamageReason, Progress, RECORD_LIMIT, ReadOutcome, RecordReader};
pub use record::{CellKind, Header, RawRecord};
