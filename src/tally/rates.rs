//! The tally behind rates: failures under observation over metres under observation, for every cell that has either.
//!
//! Exposure belongs to a family, site, model year and band; every cause and every cylinder of the engine shares it. So
//! exposure is summed once and spread over the causes that occur and the cylinders the family has, and a cell without
//! a failure is there as soon as it has exposure: "none in 3 million km" is an answer.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::cell::{RateCell, SiteCell};
use super::dimension::Dimension;
use super::exposure::{ExposureRow, Wanted, natural};
use super::filter::{Exposure, Filter, placing, switch};
use super::key::{KeyPart, keys};
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

/// Tallies failures and exposure by `dimensions`; with none, one cell holds everything.
///
/// An event with several causes counts once, unless cause is a dimension; then once under each. With the dimension
/// cylinder, exposure of a family of unknown size stands under the unknown cylinder only.
pub fn tally(
    engine: &mut dyn Engine,
    history: &History,
    filter: &Filter,
    dimensions: &[Dimension],
    bands: &MileageBands,
    exposure: Exposure,
    families: &Families,
) -> Result<RateTally> {
    let wanted = wanted(filter, dimensions, bands, exposure);
    let events = events(engine, &wanted, dimensions, None)?;
    let event_sites = events_by_site(engine, &wanted, dimensions)?;
    let spread = Spread::new(filter, dimensions, families, &events);
    let mut cells = Cells::default();
    for row in wanted.metres(engine, history)? {
        cells.add_metres(&row, &spread);
    }
    for row in wanted.vehicles(engine, history)? {
        let by_band = if dimensions.contains(&Dimension::Band) {
            banded(&row.bands, row.unknown)
        } else {
            vec![(KeyPart::Unknown, row.vehicles)]
        };
        for (band, vehicles) in by_band {
            for key in spread.keys(&row.family, &row.site, &row.model_year, &band) {
                cells.at(key).cell.vehicles += vehicles;
            }
        }
    }
    cells.add_events(&events);
    for event in event_sites {
        cells.at(event.key).add_events(event.site, event.events);
    }
    Ok(RateTally {
        dimensions: dimensions.to_vec(),
        exposure,
        cells: cells.finish(),
        history: history.account.clone(),
    })
}

/// The same failures and metres without the vehicles behind the metres and without failures by site, which take passes of their own:
/// for answers that show nothing but the rate.
///
/// # Errors
/// Those of the statements.
pub fn failures_and_metres(
    engine: &mut dyn Engine,
    history: &History,
    filter: &Filter,
    dimensions: &[Dimension],
    bands: &MileageBands,
    exposure: Exposure,
    families: &Families,
) -> Result<RateTally> {
    let wanted = wanted(filter, dimensions, bands, exposure);
    let events = events(engine, &wanted, dimensions, None)?;
    let spread = Spread::new(filter, dimensions, families, &events);
    let mut cells = Cells::default();
    for row in wanted.metres(engine, history)? {
        cells.add_metres(&row, &spread);
    }
    cells.add_events(&events);
    Ok(RateTally {
        dimensions: dimensions.to_vec(),
        exposure,
        cells: cells.finish(),
        history: history.account.clone(),
    })
}

fn wanted<'a>(
    filter: &'a Filter,
    dimensions: &[Dimension],
    bands: &'a MileageBands,
    exposure: Exposure,
) -> Wanted<'a> {
    Wanted {
        filter,
        bands,
        exposure,
        by_site: dimensions.contains(&Dimension::Site),
        by_year: dimensions.contains(&Dimension::ModelYear),
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

fn events_by_site(
    engine: &mut dyn Engine,
    wanted: &Wanted<'_>,
    dimensions: &[Dimension],
) -> Result<Vec<EventRow>> {
    events(engine, wanted, dimensions, Some(Dimension::Site))
}

/// Failures by `dimensions`, and by `also` beside them.
fn events(
    engine: &mut dyn Engine,
    wanted: &Wanted<'_>,
    dimensions: &[Dimension],
    also: Option<Dimension>,
) -> Result<Vec<EventRow>> {
    let filter = wanted.filter;
    let mut columns: Vec<Value> = Vec::new();
    for dimension in dimensions.iter().copied().chain(also) {
        let column = Value::Column(dimension.column());
        if !columns.contains(&column) {
            columns.push(column);
        }
    }
    let mut parameters = filter.of_events();
    parameters.push(filter.of_causes());
    parameters.push(switch("by_cause", dimensions.contains(&Dimension::Cause)));
    parameters.push(switch("with_later", wanted.exposure != Exposure::Observed));
    parameters.push(("dimension", Value::Each(columns)));
    parameters.extend(placing(wanted.bands));
    let batch = statement::query(engine, "event_counts", &parameters)?;
    let table = Table::new(&batch);
    let sites = match also {
        Some(Dimension::Site) => table.text("site")?,
        _ => vec![None; table.len()],
    };
    let counts = table.count("events")?;
    let walk_ins = table.count("walk_ins")?;
    let after = table.count("after_last_visit")?;
    let vehicles = table.count("event_vehicles")?;
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
    fn new(
        filter: &'a Filter,
        dimensions: &'a [Dimension],
        families: &'a Families,
        events: &[EventRow],
    ) -> Self {
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

    /// The keys of all cells that this family, site, model year and band gives exposure to.
    fn keys(
        &self,
        family: &KeyPart,
        site: &KeyPart,
        year: &KeyPart,
        band: &KeyPart,
    ) -> Vec<Vec<KeyPart>> {
        let mut keys = vec![Vec::with_capacity(self.dimensions.len())];
        for dimension in self.dimensions {
            let parts = match dimension {
                Dimension::Family => vec![family.clone()],
                Dimension::Site => vec![site.clone()],
                Dimension::ModelYear => vec![year.clone()],
                Dimension::Band => vec![band.clone()],
                Dimension::Cause => self.causes.clone(),
                Dimension::Cylinder => self.cylinders_of(family),
            };
            keys = keys
                .into_iter()
                .flat_map(|key| {
                    parts.iter().map(move |part| {
                        let mut longer = key.clone();
                        longer.push(part.clone());
                        longer
                    })
                })
                .collect();
        }
        keys
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

/// Cells while they are being filled.
#[derive(Default)]
struct Cells(BTreeMap<Vec<KeyPart>, Filling>);

#[derive(Default)]
struct Filling {
    cell: RateCell,
    sites: BTreeMap<Option<String>, (u64, i64)>,
}

impl Filling {
    fn add_exposure(&mut self, site: &Option<String>, metres: i64) {
        self.cell.exposure_m += metres;
        self.sites.entry(site.clone()).or_default().1 += metres;
    }

    fn add_events(&mut self, site: Option<String>, events: u64) {
        self.sites.entry(site).or_default().0 += events;
    }
}

impl Cells {
    /// Spreads the metres of one family, site and model year over its cells.
    fn add_metres(&mut self, row: &ExposureRow, spread: &Spread<'_>) {
        let site = KeyPart::text(row.site.clone());
        let by_band = if spread.dimensions.contains(&Dimension::Band) {
            banded(&row.bands_m, row.unknown_m)
        } else {
            vec![(KeyPart::Unknown, row.total_m())]
        };
        for (band, metres) in by_band {
            for key in spread.keys(&row.family, &site, &row.model_year, &band) {
                let cell = self.at(key);
                cell.add_exposure(&row.site, metres);
                cell.cell.cover(row.first, row.last);
            }
        }
    }

    fn add_events(&mut self, events: &[EventRow]) {
        for event in events {
            let cell = &mut self.at(event.key.clone()).cell;
            cell.events += event.events;
            cell.walk_ins += event.walk_ins;
            cell.after_last_visit += event.after_last_visit;
            cell.event_vehicles += event.vehicles;
            cell.cover(event.first, event.last);
        }
    }

    fn at(&mut self, key: Vec<KeyPart>) -> &mut Filling {
        self.0.entry(key).or_default()
    }

    fn finish(self) -> Vec<RateCell> {
        let site_cell = |(site, (events, exposure_m))| SiteCell {
            site,
            events,
            exposure_m,
        };
        self.0
            .into_iter()
            .map(|(key, filled)| RateCell {
                key,
                sites: filled
                    .sites
                    .into_iter()
                    .filter(|(_, (events, metres))| *events > 0 || *metres > 0)
                    .map(site_cell)
                    .collect(),
                ..filled.cell
            })
            .collect()
    }
}
