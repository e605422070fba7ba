//! A budget as a workbook: real numbers and days, and formulas where a manager would change an assumption.
//!
//! Text is written as text and marked so (`quotePrefix`), so that a unit called `=2+3` stays what it is even when its cell is edited.

pub mod book;
mod calculation;
mod looks;
mod replacement;
mod table;

pub use book::budget;
