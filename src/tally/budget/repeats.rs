//! What engines did after a first failure.

use super::ask::BudgetAsk;
use crate::domain::problem::Result;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::statement;

/// A stretch of one engine from a failure to the next, or to the end of observation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    /// Family; none where unknown.
    pub family: Option<String>,
    /// Metres on the engine's clock at which it begins.
    pub from_m: i64,
    /// ... and ends.
    pub to_m: i64,
    /// Whether the next failure ends it.
    pub again: bool,
}

/// All of them.
///
/// # Errors
/// Those of the statement.
pub fn tally(engine: &mut dyn Engine, ask: &BudgetAsk) -> Result<Vec<Stretch>> {
    let parameters = [ask.causes(), ask.last_day()];
    let batch = statement::query(engine, "budget_repeats", &parameters)?;
    let table = Table::new(&batch);
    let families = table.text("engine_family")?;
    let from = table.count("from_m")?;
    let to = table.count("to_m")?;
    let again = table.count("again")?;
    let rows = families.into_iter().zip(from).zip(to).zip(again);
    Ok(rows
        .map(|(((family, from_m), to_m), again)| Stretch {
            family,
            from_m,
            to_m,
            again: again > 0,
        })
        .collect())
}
