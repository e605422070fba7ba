//! Repairs that came back as the same failure, by repair.

use crate::domain::catalog::Catalog;
use crate::domain::problem::Result;
use crate::history::History;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::literal::Value;
use crate::query::statement;
use crate::tally::Dimension;
use crate::tally::exposure::natural;
use crate::tally::filter::Filter;
use crate::tally::key::{KeyPart, keys};

/// Comebacks of one repair.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ComebackCount {
    /// One part for each dimension.
    pub key: Vec<KeyPart>,
    /// Repair id.
    pub repair: String,
    /// Repairs whose whole comeback window lies before the end of the data.
    pub repairs: u64,
    /// Of these, repairs that came back.
    pub came_back: u64,
    /// Repairs too recent to tell, counted in neither.
    pub too_recent: u64,
    /// Vehicles of the repairs counted.
    pub vehicles: u64,
}

/// Counts comebacks by repair and by the given dimensions (any of family, site and model year).
pub fn tally(
    engine: &mut dyn Engine,
    history: &History,
    filter: &Filter,
    dimensions: &[Dimension],
    catalog: &Catalog,
) -> Result<Vec<ComebackCount>> {
    let nothing = catalog.repairs().iter().filter(|r| r.hours_to <= 0.0);
    let last = history.cut_off().map_or(0, |d| i64::from(d.0));
    let columns = dimensions.iter().map(|d| Value::Column(d.column()));
    let mut parameters = filter.of_events();
    parameters.extend([
        filter.of_causes(),
        ("dimension", Value::Each(columns.collect())),
        (
            "no_repairs",
            Value::Texts(nothing.map(|r| r.id.clone()).collect()),
        ),
        ("confirmation", Value::Int(history.options.confirmation)),
        ("told_until", Value::Int(last - history.options.window_days)),
    ]);
    let batch = statement::query(engine, "comeback_counts", &parameters)?;
    let table = Table::new(&batch);
    let counts = table
        .count("repairs")?
        .into_iter()
        .zip(table.count("came_back")?)
        .zip(table.count("too_recent")?)
        .zip(table.count("vehicles")?);
    let rows = keys(&table, dimensions)?
        .into_iter()
        .zip(table.text("repair")?)
        .zip(counts);
    Ok(rows
        .map(
            |((key, repair), (((repairs, came_back), too_recent), vehicles))| ComebackCount {
                key,
                repair: repair.unwrap_or_default(),
                repairs: natural(repairs),
                came_back: natural(came_back),
                too_recent: natural(too_recent),
                vehicles: natural(vehicles),
            },
        )
        .collect())
}
