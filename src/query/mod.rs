//! Engines that run the statements of `queries/`.

pub mod engine;
