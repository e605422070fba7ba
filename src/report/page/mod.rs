//! The pages of a report: self-contained HTML that opens offline and prints on A4 and Letter.

pub mod bay;
pub mod budget;
pub mod check;
pub mod family;
pub mod index;
pub mod life;
pub mod parts;
pub mod readings;
pub mod repeats;
pub mod shell;
