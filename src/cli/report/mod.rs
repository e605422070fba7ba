//! `report`: what is gathered for the pages, and the command that writes them.

pub mod command;
pub mod facts;
pub mod family;
pub mod gather;
pub mod readings;
pub mod slices;

pub use command::ReportArgs;
pub use gather::{Look, report};
