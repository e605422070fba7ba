//! One file a command. A command is a clap `Args` struct that implements [`command::Subcommand`] and stands in
//! [`registry::COMMANDS`]; help, completions and the tests that walk all commands derive from that list.

pub mod command;
pub mod cylinders;
pub mod interval;
pub mod question;
pub mod rates;
pub mod report;
pub mod shares;
pub mod completions;
pub mod ingest;
mod ingest_account;
pub mod output;
pub mod registry;
pub mod store;
pub mod synth;

pub use registry::main;
