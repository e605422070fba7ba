//! From records in a store to answers, as a user meets it.

mod contract_schema;
mod contracts;
mod coverage;
mod coverage_fleets;
mod edited_causes;
mod history;
mod history_cache;
mod history_store;
mod history_tallies;
mod ingest_cases;
mod ingest_command;
mod ingest_messes;
mod ingest_mistakes;
mod ingest_shop;
mod ingest_versions;
mod interrupted;
mod life;
mod life_store;
mod messages;
mod open_data;
mod readme;
mod shop;
mod store;
mod store_repair;
mod synth;
mod tests_now;
