//! One file or folder a question; an answer is computed in memory from small tallies and never touches a file.

pub mod budget;
pub mod caveats;
pub mod columns;
pub mod compare;
pub mod cylinders;
pub mod interval;
pub mod label;
pub mod life;
pub mod parallel;
pub mod parts;
pub mod question;
pub mod rates;
pub mod readings;
pub mod repeats;
pub mod shares;
pub mod sheet;
pub mod statistic;
pub mod suppress;
pub mod test_order;
pub mod words;
