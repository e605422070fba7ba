//! Cells: one text into one value of the house, or a reason why not. Nothing here guesses: what the text leaves open and
//! the mapping does not settle is a rejection.

pub mod cylinder;
pub mod date;
pub mod flag;
pub mod month_name;
pub mod number;
pub mod text;
