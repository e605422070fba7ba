//! The sites that have records, so that a mistyped one can be told.

use crate::domain::problem::Result;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::statement;

/// Every site of the store, sorted; visits and cases must be registered.
pub fn tally(engine: &mut dyn Engine) -> Result<Vec<String>> {
    let batch = statement::query(engine, "sites", &[])?;
    Ok(Table::new(&batch)
        .text("site")?
        .into_iter()
        .flatten()
        .collect())
}
