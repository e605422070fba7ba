//! The folder on disk: immutable batches, families, catalog, lock.
