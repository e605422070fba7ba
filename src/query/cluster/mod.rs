//! The engine beyond one machine: the same SQL sent to an Arrow Flight SQL server that sees the same store, or copies of its files.
//!
//! Apache DataFusion Ballista's scheduler (with its Flight SQL front end) is the server it is tested with. Tables are external
//! tables over the store's own Parquet files, so no row travels with a statement, and tallies come back. Where the cluster does not see
//! the store's folder, each file is copied once into a bucket of an object store that it sees.

pub mod address;
pub mod bucket;
pub mod contract;
pub mod engine;
pub mod fault;
pub mod location;
pub mod parquet_file;
mod percent;
pub mod scratch;
pub mod server;
pub mod tables;

pub use address::{Address, Credentials};
pub use engine::Cluster;
