//! Which versions of which records the store holds, as sorted files of hashes: what tells a duplicate or an edit from a new row.
//!
//! A row is an [`Entry`] of 16 bytes. Entries lie sorted in runs; a run covers whole batches and names them. The rows of a new file
//! are sorted too ([`Sorter`]) and walk through every run in step, once: little of them is held in memory at a time, and blocks
//! without a match are not read. Small runs are merged into larger ones as they come, so that there are few and every row is
//! copied about as often as the store has doubled since.
//!
//! The folder is derived from the batches and may be deleted at any time: what no run covers is read from the batches again.
//! That is also what happens after a crash between a batch and its run.

mod builder;
mod entry;
mod index;
mod merge;
mod run;
mod sorter;

pub use builder::Builder;
pub use entry::Entry;
pub use index::Index;
pub(super) use index::files;
pub use run::{Run, Walk, Writer};
pub use sorter::{Row, Sorter};
