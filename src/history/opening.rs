//! Opens history: registers its tables with an engine, building what the folder does not hold yet.

use std::path::Path;

use super::account::{self, HistoryAccount, StepAccount};
use super::episode_tables::{EPISODE_TABLES, STEP_TABLES};
use super::layer::Layer;
use super::options::HistoryOptions;
use super::slice::VEHICLES_A_SLICE;
use super::span_tables::{SPAN_TABLES, VEHICLE_NUMBERS};
use crate::domain::day::Day;
use crate::domain::problem::Result;
use crate::domain::table::Table;
use crate::query::engine::Engine;
use crate::query::tables::open_tables;
use crate::store::{BatchAccount, Store};

/// History that is open: its tables are registered with the engine it was opened with.
#[derive(Debug, Clone)]
pub struct History {
    /// The choices it was made with.
    pub options: HistoryOptions,
    /// What became of rows, readings, vehicles and cases.
    pub account: HistoryAccount,
}

impl History {
    /// The data cut-off: the last day on which any vehicle was seen.
    pub fn cut_off(&self) -> Option<Day> {
        self.account.spans.last_day
    }
}

/// What history is made from.
pub struct Inputs<'a> {
    /// The store's `history` folder.
    pub folder: &'a Path,
    /// Changes whenever the records do.
    pub fingerprint: &'a str,
    /// How many rows of visits, cases and findings there are, about: large tables are made a slice at a time.
    pub rows: u64,
    /// Registers `visits`, `cases` and `findings`; called only if something must be built.
    pub register: &'a mut dyn FnMut(&mut dyn Engine) -> Result<()>,
}

/// Opens the history of a store: registers its tables with `engine`, building what `history/` does not hold yet.
///
/// Other options are cheap: spans do not depend on them and are used again.
pub fn open(store: &Store, engine: &mut dyn Engine, options: &HistoryOptions) -> Result<History> {
    let inputs = Inputs {
        folder: &store.history_folder(),
        fingerprint: &store.fingerprint()?,
        rows: stored_rows(store)?,
        register: &mut |engine| open_tables(engine, store),
    };
    open_over(inputs, engine, options)
}

/// Rows of visits, cases and findings in all batches as their accounts tell them.
fn stored_rows(store: &Store) -> Result<u64> {
    let batches = store.batches()?;
    let tables = [Table::Visits, Table::Cases, Table::Findings].map(Table::name);
    let rows = |account: &BatchAccount| {
        tables
            .iter()
            .filter_map(|t| account.rows.get(*t))
            .sum::<u64>()
    };
    Ok(batches.iter().map(|b| rows(&b.account)).sum())
}

/// Opens history over any inputs; [`open`] does it for a store.
pub fn open_over(
    inputs: Inputs<'_>,
    engine: &mut dyn Engine,
    options: &HistoryOptions,
) -> Result<History> {
    open_sliced(inputs, engine, options, VEHICLES_A_SLICE)
}

/// The same with slices of another size; what is built first stays, whatever the size.
pub fn open_sliced(
    inputs: Inputs<'_>,
    engine: &mut dyn Engine,
    options: &HistoryOptions,
    vehicles_a_slice: u64,
) -> Result<History> {
    let spans = Layer {
        name: "spans",
        tables: SPAN_TABLES,
        fingerprint: inputs.fingerprint,
        below: "",
        options: *options,
        stored_rows: inputs.rows,
        vehicles: 0,
        vehicles_a_slice,
    };
    let below = spans.key()?;
    let opened = spans.open(inputs.folder, engine, inputs.register, account::spans)?;
    let numbers = SPAN_TABLES.iter().filter(|t| t.name == VEHICLE_NUMBERS);
    let numbered = numbers
        .flat_map(|t| opened.files_of(t))
        .map(|f| f.rows)
        .sum();
    let episodes = Layer {
        name: "episodes",
        tables: EPISODE_TABLES,
        fingerprint: inputs.fingerprint,
        below: &below,
        options: *options,
        stored_rows: inputs.rows,
        vehicles: numbered,
        vehicles_a_slice,
    };
    let account = HistoryAccount {
        spans: opened.account,
        episodes: episodes
            .open(inputs.folder, engine, &mut |_| Ok(()), account::episodes)?
            .account,
    };
    Ok(History {
        options: *options,
        account,
    })
}

/// Opens the test steps beside an open history: registers `tests_now`, building it if `history/` does not hold it yet.
///
/// A layer of its own, so that answers that need no test do not pay for it; it depends on the records alone.
pub fn open_steps(
    store: &Store,
    engine: &mut dyn Engine,
    history: &History,
) -> Result<StepAccount> {
    let steps = Layer {
        name: "steps",
        tables: STEP_TABLES,
        fingerprint: &store.fingerprint()?,
        below: "",
        options: history.options,
        stored_rows: 0,
        vehicles: 0,
        vehicles_a_slice: VEHICLES_A_SLICE,
    };
    let mut register = |engine: &mut dyn Engine| open_tables(engine, store);
    let opened = steps.open(
        &store.history_folder(),
        engine,
        &mut register,
        account::steps,
    )?;
    Ok(opened.account)
}
