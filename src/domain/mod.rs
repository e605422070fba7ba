//! The nouns: everything the other floors speak about. Imports no other floor.

pub mod catalog;
pub mod caution;
pub mod confirmation;
pub mod currency;
pub mod cylinder;
pub mod day;
pub mod distance;
pub mod engine_life;
pub mod family;
pub mod firing_order;
pub mod mileage_band;
pub mod outcome;
pub mod problem;
pub mod suggestion;
pub mod table;
pub(crate) mod toml_file;
pub mod trouble_code;
pub mod unit;
pub mod version;
pub mod vin;
