//! The tally behind rates: failures under observation over metres under observation, for every cell that has either.
//!
//! Exposure belongs to a family, site, model year and band; every cause and every cylinder of the engine shares it. So
//! exposure is summed once and spread over the causes that occur and the cylinders the family has, and a cell without
//! a failure is there as soon as it has exposure: "none in 3 million km" is an answer.

use std::collections::BTreeSet;

use serde::Serialize;

use super::cell::RateCell;
use super::dimension::Dimension;
use super::exposure::{ExposureRow, VehicleRow, Wanted, natural};
use super::filling::Cells;
use super::filter::{Exposure, Filter, placing, switch};
use super::key::{KeyPart, keys};
use super::portion::{Portion, portions};
use crate::domain::day::Day;
use crate::domain::family::Families;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::Result;
use crate::history::rows::Table;
use crate::history::{History, HistoryAccount};
use crate::query::engine::Engine;
use crate::query::literal::Value;
use crate::query::statement;

/// Counts and exposure of every cell.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RateTally {
    /// What the cells are split by, in the order of their key's parts.
    pub dimensions: Vec<Dimension>,
    /// Which distance counts.
    pub exposure: Exposure,
    /// Sorted by key.
    pub cells: Vec<RateCell>,
    /// What became of the rows behind it.
    pub history: HistoryAccount,
}

/// What to count, of which rows.
#[derive(Clone, Copy)]
pub struct Asked<'a> {
    /// The history, as views in the engine.
    pub history: &'a History,
    /// Which cases and vehicles.
    pub filter: &'a Filter,
    /// What to split by; with none, one cell holds everything.
    pub dimensions: &'a [Dimension],
    /// Bands of distance.
    pub bands: &'a MileageBands,
    /// Which distance counts.
    pub exposure: Exposure,
    /// The engine families known.
    pub families: &'a Families,
}

/// Tallies failures and exposure by the dimensions asked for.
///
/// An event with several causes counts once, unless cause is a dimension; then once under each. With the dimension
/// cylinder, exposure of a family of unknown size stands under the unknown cylinder only.
///
/// # Errors
/// Those of the statements.
pub fn tally(engine: &mut dyn Engine, asked: Asked<'_>) -> Result<RateTally> {
    let (mut cells, spread) = failures_over_metres(engine, asked, true)?;
    let wanted = wanted(asked);
    for row in wanted.vehicles(engine, asked.history)? {
        add_vehicles(&mut cells, &row, &spread);
    }
    for portion in portions(asked.history) {
        let count = Count::Vehicles(portion);
        for event in events(engine, &wanted, asked.dimensions, count)? {
            let code = cells.code(&event.key);
            cells.at(code).event_vehicles += event.vehicles;
        }
    }
    for event in events(engine, &wanted, asked.dimensions, Count::BySite)? {
        let (code, site) = (cells.code(&event.key), cells.site(&event.site));
        cells.add_at_site(code, site, event.events, 0);
    }
    Ok(finish(cells, asked))
}

/// The same failures and metres without the vehicles behind the metres and without sites, which take passes of their own:
/// for answers that show nothing but the rate.
///
/// # Errors
/// Those of the statements.
pub fn failures_and_metres(engine: &mut dyn Engine, asked: Asked<'_>) -> Result<RateTally> {
    let (cells, _) = failures_over_metres(engine, asked, false)?;
    Ok(finish(cells, asked))
}

/// Cells with their failures and metres, the metres also by site where asked for, and how anything else spreads over them.
fn failures_over_metres<'a>(
    engine: &mut dyn Engine,
    asked: Asked<'a>,
    by_site: bool,
) -> Result<(Cells, Spread<'a>)> {
    let wanted = wanted(asked);
    let events = events(engine, &wanted, asked.dimensions, Count::Events)?;
    let spread = Spread::new(asked, &events);
    let mut cells = Cells::new(asked.dimensions);
    for row in wanted.metres(engine, asked.history)? {
        let site = by_site.then(|| cells.site(&row.site));
        add_metres(&mut cells, &row, &spread, site);
    }
    add_events(&mut cells, &events);
    Ok((cells, spread))
}

fn finish(cells: Cells, asked: Asked<'_>) -> RateTally {
    RateTally {
        dimensions: asked.dimensions.to_vec(),
        exposure: asked.exposure,
        cells: cells.finish(),
        history: asked.history.account.clone(),
    }
}

fn wanted(asked: Asked<'_>) -> Wanted<'_> {
    Wanted {
        filter: asked.filter,
        bands: asked.bands,
        exposure: asked.exposure,
        by_site: asked.dimensions.contains(&Dimension::Site),
        by_year: asked.dimensions.contains(&Dimension::ModelYear),
    }
}

/// The bands that hold anything, each with its amount; the unknown place is a band of its own.
fn banded<N: Copy + PartialEq + Default>(bands: &[N], unknown: N) -> Vec<(KeyPart, N)> {
    let known = bands
        .iter()
        .enumerate()
        .map(|(i, n)| (KeyPart::Band(i), *n));
    known
        .chain([(KeyPart::Unknown, unknown)])
        .filter(|(_, n)| *n != N::default())
        .collect()
}

/// Failures with one key, and at one site where asked for.
struct EventRow {
    key: Vec<KeyPart>,
    site: Option<String>,
    events: u64,
    walk_ins: u64,
    after_last_visit: u64,
    vehicles: u64,
    first: Option<Day>,
    last: Option<Day>,
}

/// What is counted of failures.
#[derive(Clone, Copy)]
enum Count {
    /// Failures alone.
    Events,
    /// The same by site as well.
    BySite,
    /// Also the vehicles that failed, of one portion of them.
    Vehicles(Portion),
}

/// Failures by `dimensions`.
fn events(
    engine: &mut dyn Engine,
    wanted: &Wanted<'_>,
    dimensions: &[Dimension],
    count: Count,
) -> Result<Vec<EventRow>> {
    let filter = wanted.filter;
    let also = matches!(count, Count::BySite).then_some(Dimension::Site);
    let (portion, with_vehicles) = match count {
        Count::Vehicles(portion) => (portion, true),
        Count::Events | Count::BySite => (Portion::default(), false),
    };
    let mut columns: Vec<Value> = Vec::new();
    for dimension in dimensions.iter().copied().chain(also) {
        let column = Value::Column(dimension.column());
        if !columns.contains(&column) {
            columns.push(column);
        }
    }
    let mut parameters = filter.of_events();
    parameters.push(filter.of_causes());
    let by_cause = dimensions.contains(&Dimension::Cause);
    let all_causes = filter.causes.is_empty();
    parameters.extend(portion.parameters());
    parameters.extend([
        switch("by_cause", by_cause),
        switch("primary", !by_cause && all_causes),
        switch("any_cause", !by_cause && !all_causes),
        switch("with_later", wanted.exposure != Exposure::Observed),
        switch("with_vehicles", with_vehicles),
        ("dimension", Value::Each(columns)),
    ]);
    parameters.extend(placing(wanted.bands));
    let batch = statement::query(engine, "event_counts", &parameters)?;
    let table = Table::new(&batch);
    let sites = match count {
        Count::BySite => table.text("site")?,
        Count::Events | Count::Vehicles(_) => vec![None; table.len()],
    };
    let counts = table.count("events")?;
    let walk_ins = table.count("walk_ins")?;
    let after = table.count("after_last_visit")?;
    let vehicles = match with_vehicles {
        true => table.count("event_vehicles")?,
        false => vec![0; table.len()],
    };
    let first = table.day("first_day")?;
    let last = table.day("last_day")?;
    let rows = keys(&table, dimensions)?
        .into_iter()
        .zip(sites)
        .zip(counts.into_iter().zip(vehicles))
        .zip(walk_ins.into_iter().zip(after))
        .zip(first.into_iter().zip(last));
    Ok(rows
        .map(
            |((((key, site), (events, vehicles)), (walk_ins, after)), (first, last))| EventRow {
                key,
                site,
                events: natural(events),
                walk_ins: natural(walk_ins),
                after_last_visit: natural(after),
                vehicles: natural(vehicles),
                first,
                last,
            },
        )
        .collect())
}

/// How exposure spreads over causes and cylinders.
struct Spread<'a> {
    dimensions: &'a [Dimension],
    families: &'a Families,
    causes: Vec<KeyPart>,
    cylinders: &'a [i64],
    unknown_cylinder: bool,
}

impl<'a> Spread<'a> {
    fn new(asked: Asked<'a>, events: &[EventRow]) -> Self {
        let Asked {
            filter,
            dimensions,
            families,
            ..
        } = asked;
        let found = |dimension: Dimension| -> BTreeSet<KeyPart> {
            let place = dimensions.iter().position(|d| *d == dimension);
            let parts = |e: &EventRow| place.and_then(|p| e.key.get(p).cloned());
            events.iter().filter_map(parts).collect()
        };
        let causes = if filter.causes.is_empty() {
            found(Dimension::Cause)
        } else {
            filter.causes.iter().cloned().map(KeyPart::Text).collect()
        };
        Self {
            dimensions,
            families,
            causes: causes.into_iter().collect(),
            cylinders: &filter.cylinders,
            unknown_cylinder: found(Dimension::Cylinder).contains(&KeyPart::Unknown),
        }
    }

    /// For each dimension the parts of the keys of all cells that this family, site, model year and band gives exposure to.
    fn parts(
        &self,
        family: &KeyPart,
        site: &KeyPart,
        year: &KeyPart,
        band: &KeyPart,
    ) -> Vec<Vec<KeyPart>> {
        self.dimensions
            .iter()
            .map(|dimension| match dimension {
                Dimension::Family => vec![family.clone()],
                Dimension::Site => vec![site.clone()],
                Dimension::ModelYear => vec![year.clone()],
                Dimension::Band => vec![band.clone()],
                Dimension::Cause => self.causes.clone(),
                Dimension::Cylinder => self.cylinders_of(family),
            })
            .collect()
    }

    fn by_band(&self) -> bool {
        self.dimensions.contains(&Dimension::Band)
    }

    fn cylinders_of(&self, family: &KeyPart) -> Vec<KeyPart> {
        let known = match family {
            KeyPart::Text(id) => self.families.get(id).map(|f| i64::from(f.cylinders)),
            _ => None,
        };
        let wanted = |c: &i64| self.cylinders.is_empty() || self.cylinders.contains(c);
        let mut parts: Vec<KeyPart> = (1..=known.unwrap_or(0))
            .filter(wanted)
            .map(KeyPart::Number)
            .collect();
        if self.unknown_cylinder || (known.is_none() && self.cylinders.is_empty()) {
            parts.push(KeyPart::Unknown);
        }
        parts
    }
}

/// Spreads the metres of one family, site and model year over its cells, and over the sites of each where they are asked for.
fn add_metres(cells: &mut Cells, row: &ExposureRow, spread: &Spread<'_>, at_site: Option<u32>) {
    let site = KeyPart::text(row.site.clone());
    let by_band = if spread.by_band() {
        banded(&row.bands_m, row.unknown_m)
    } else {
        vec![(KeyPart::Unknown, row.total_m())]
    };
    for (band, metres) in by_band {
        for code in cells.codes(&spread.parts(&row.family, &site, &row.model_year, &band)) {
            let cell = cells.at(code);
            cell.exposure_m += metres;
            cell.cover(row.first, row.last);
            if let Some(site) = at_site {
                cells.add_at_site(code, site, 0, metres);
            }
        }
    }
}

fn add_vehicles(cells: &mut Cells, row: &VehicleRow, spread: &Spread<'_>) {
    let by_band = if spread.by_band() {
        banded(&row.bands, row.unknown)
    } else {
        vec![(KeyPart::Unknown, row.vehicles)]
    };
    for (band, vehicles) in by_band {
        for code in cells.codes(&spread.parts(&row.family, &row.site, &row.model_year, &band)) {
            cells.at(code).vehicles += vehicles;
        }
    }
}

fn add_events(cells: &mut Cells, events: &[EventRow]) {
    for event in events {
        let code = cells.code(&event.key);
        let cell = cells.at(code);
        cell.events += event.events;
        cell.walk_ins += event.walk_ins;
        cell.after_last_visit += event.after_last_visit;
        cell.cover(event.first, event.last);
    }
}
