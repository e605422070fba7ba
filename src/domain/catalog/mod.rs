//! The catalog: causes, tests, repairs, and what practice assumes about them until records say otherwise.

mod chance;
mod check;
mod check_entries;
mod check_rows;
mod contents;
mod entry;
mod form;
mod name;
mod naming;

pub use chance::Chance;
pub use contents::Catalog;
pub use entry::{
    Access, Block, Cause, FailureMode, FaultySide, HeadOff, Invasive, Repair, Scope, SetUp,
    Severity, Test, Word,
};
pub use name::Kind;
