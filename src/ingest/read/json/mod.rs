//! JSON: one object a line, or arrays of objects; each object is one record.
//!
//! Objects within objects become columns with a dot in their name (`vehicle.vin`). A list of plain values becomes one cell, the
//! values joined by `, ` (so a list of trouble codes reads like a typed one). A list of objects becomes columns with the
//! place in the list, from 1 (`lines.1.op`). `null` is an empty cell. A name that appears only in later records still gets a
//! column: the header grows, and never changes what it already has.

mod columns;
mod extent;
mod flatten;
mod reader;
#[cfg(test)]
mod tests;

pub use reader::JsonReader;
