//! What a past fleet went on to do.

use super::ask::{BudgetAsk, day};
use crate::domain::day::Day;
use crate::domain::problem::Result;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::statement;
use crate::tally::exposure::natural;

/// An engine known by the cut-off, and what came after it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Driven {
    /// Pseudonym of the vehicle.
    pub vehicle: String,
    /// Family; none where unknown.
    pub family: Option<String>,
    /// Metres on the engine's clock at the cut-off, or where it was first seen after it.
    pub from_m: i64,
    /// ... at the end.
    pub to_m: i64,
    /// Whether it had failed up to the cut-off.
    pub repaired: bool,
    /// Failures after it.
    pub failures: u64,
}

/// Every engine that was known at the end of `cut_off` and driven between then and the end of `until`.
///
/// # Errors
/// Those of the statement.
pub fn tally(
    engine: &mut dyn Engine,
    ask: &BudgetAsk,
    cut_off: Day,
    until: Day,
) -> Result<Vec<Driven>> {
    let parameters = [
        ask.causes(),
        ("cut_off", day(cut_off)),
        ("last_day", day(until)),
    ];
    let batch = statement::query(engine, "budget_driven", &parameters)?;
    let table = Table::new(&batch);
    let vehicles = table.names("vehicle")?;
    let families = table.text("engine_family")?;
    let (from, to) = (table.count("from_m")?, table.count("to_m")?);
    let (repaired, failures) = (table.count("repaired")?, table.count("failures")?);
    let rows = vehicles
        .into_iter()
        .zip(families)
        .zip(from.into_iter().zip(to));
    let rows = rows.zip(repaired.into_iter().zip(failures));
    Ok(rows
        .map(
            |(((vehicle, family), (from_m, to_m)), (repaired, failures))| Driven {
                vehicle: vehicle.unwrap_or_default(),
                family,
                from_m,
                to_m,
                repaired: repaired > 0,
                failures: natural(failures),
            },
        )
        .collect())
}
