//! Rosters: the units of a fleet and what they are planned to drive, through the same mapping files, cell readers and checks as
//! exports. Nothing of a roster reaches the store.

pub mod mapping;
pub mod plain;
pub mod read;
pub mod types;

pub use mapping::mapping_for;
pub use read::read;
pub use types::{BadRow, Roster, RosterUnit};
