//! What do healthy cylinders of this engine read, and where do confirmed faults lie? For a shop that has no published value.

pub mod caveats;
pub mod compute;
pub mod contrast;
pub mod cut_offs;
pub mod histogram;
pub mod range;
pub mod sample;
pub mod sheet;
pub mod types;
pub mod verdict;

pub use compute::answer;
pub use types::Readings;
