//! Engines that run the statements of `queries/`.

pub mod choice;
pub mod cluster;
pub mod engine;
pub mod frame;
pub mod literal;
pub mod local;
pub mod logged;
pub mod quarantine;
pub mod statement;
pub mod tables;
pub mod template;
