//! From records in a store to answers, as a user meets it.

mod history;
mod history_cache;
mod history_store;
mod history_tallies;
mod store;
