//! Which tests have readings of most engines.

use std::collections::BTreeMap;

use crate::domain::problem::Result;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::statement;
use crate::tally::Filter;

/// Tests by family, those with readings of most engines first (ties by id); history and its test steps must be open.
pub fn best_filled(
    engine: &mut dyn Engine,
    filter: &Filter,
) -> Result<BTreeMap<String, Vec<(String, u64)>>> {
    let batch = statement::query(engine, "test_reading_counts", &filter.of_reading_counts())?;
    let table = Table::new(&batch);
    let mut out: BTreeMap<String, Vec<(String, u64)>> = BTreeMap::new();
    let rows = table
        .text("engine_family")?
        .into_iter()
        .zip(table.text("test")?)
        .zip(table.count("engines")?);
    for ((family, test), engines) in rows {
        if let (Some(family), Some(test)) = (family, test) {
            let engines = u64::try_from(engines).unwrap_or(0);
            out.entry(family).or_default().push((test, engines));
        }
    }
    for tests in out.values_mut() {
        tests.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    }
    Ok(out)
}
