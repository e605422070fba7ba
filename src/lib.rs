//! Boretally: failure evidence from the closed diagnostic cases of many shops.
//!
//! The map of the house, each floor importing only floors below it:
//!
//! | floor | folder | what it does |
//! |---|---|---|
//! | `cli` | one file a command | arguments in, answer out |
//! | `report` | | tables, charts, pages; computes no statistic |
//! | `answer` | one file a question | statistics applied to small tallies; touches no file |
//! | `tally` | | counts and exposure out of history, by SQL |
//! | `history` | | spans of observation and episodes of failure, by SQL |
//! | `ingest` | | exports in, checked rows out |
//! | `query` | | engines that run `queries/*.sql` |
//! | `store` | | the folder on disk: batches, lock, verify, compact |
//! | `domain` | | the nouns: family, cylinder, cause, unit, code, VIN |
//! | `stats` | one file a family of methods | pure numbers; imports nothing of ours |
//! | `synth` | | invented fleets with a known truth |

pub mod answer;
pub mod cli;
pub mod domain;
pub mod history;
pub mod ingest;
pub mod query;
pub mod report;
pub mod stats;
pub mod store;
pub mod synth;
pub mod tally;
