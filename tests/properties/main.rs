//! Laws that hold for any input, tried with random ones.

mod budget_coverage;
mod gray_size;
mod history;
mod ingest;
mod intervals;
mod life_coverage;
mod rates;
mod readers;
mod readings_coverage;
mod repeats;
mod survival;
mod test_order;
