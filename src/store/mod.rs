//! The folder on disk: immutable batches, families, catalog, lock.
//!
//! Everything that is known lives in one folder that a shop can copy, back up or hand on. A batch is written beside,
//! synced and put in its place; its `batch.json` comes last, so that a reader never sees half of one and a crash leaves
//! at most a scrap that `verify` names.

pub mod account;
pub mod batch;
pub mod batch_writer;
pub mod compact;
pub mod durable;
pub mod folder;
pub mod key;
pub mod layout;
pub mod lock;
pub mod making;
pub mod origin;
pub mod repair;
mod replace;
pub mod rewrite;
pub mod rows;
#[cfg(test)]
mod sample;
pub mod schema;
pub mod scrap;
pub mod settings;
pub mod snapshot;
mod sort;
pub mod staging;
pub mod table_writer;
pub mod verify;
pub mod versions;

pub use account::BatchAccount;
pub use batch::{BatchHeader, BatchInfo};
pub use batch_writer::{BatchWriter, Begin, FinishedBatch};
pub use folder::Store;
pub use key::VehicleKey;
pub use making::InitOptions;
pub use schema::arrow_schema;
