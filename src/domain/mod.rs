//! The nouns: everything the other floors speak about. Imports no other floor.

pub mod day;
pub mod problem;
pub mod table;
