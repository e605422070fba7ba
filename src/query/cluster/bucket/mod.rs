//! The store's files in a bucket of an S3-style object store, for a cluster that does not see the store's folder.
//!
//! The store stays a folder of the client: locks, renames and ingest are those of a file system. What a statement reads is copied
//! once, under a name that no other file and no other content of it ever has, so that what lies in the bucket is never out of date.

pub mod access;
pub mod client;
pub mod copies;
pub mod fault;
pub mod mark;
pub mod place;
pub mod progress;
pub mod upload;

pub use access::Access;
pub use copies::Copies;
pub use place::Place;
