//! Units of test readings: exact factors, the spellings of exports, and readings that came without a unit.

mod inference;
mod measure;
mod spelling;

pub use inference::infer_pressure_unit;
pub use measure::{Quantity, Unit};
