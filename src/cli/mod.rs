//! One file a command. A command is a clap `Args` struct that implements [`command::Subcommand`] and stands in
//! [`registry::COMMANDS`]; help, completions and the tests that walk all commands derive from that list.

pub mod budget;
pub mod command;
pub mod compare;
pub mod completions;
pub mod cylinders;
pub mod demo;
pub mod ingest;
pub mod ingest_account;
mod ingest_unmapped;
pub mod interval;
pub mod life;
pub mod output;
pub mod question;
pub mod rates;
pub mod readings;
pub mod registry;
pub mod repeats;
pub mod report;
pub mod shares;
pub mod store;
pub mod synth;
pub mod test_order;
pub mod typed_reading;

pub use registry::main;
