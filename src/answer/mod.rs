//! One file a question; an answer is computed in memory from small tallies and never touches a file.

pub mod parts;
pub mod sheet;
