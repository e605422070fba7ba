//! Exposure and vehicles at risk: the denominators, by family, site, model year and mileage band.

use super::filter::{Exposure, Filter, Parameters, once, switch, upper_edges};
use super::key::KeyPart;
use super::portion::{Portion, portions};
use crate::domain::day::Day;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::Result;
use crate::history::History;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::literal::Value;
use crate::query::statement;

/// Earliest and latest day of a calendar without limits; far outside of any record, and safe to add to.
pub(super) const EVER: (i64, i64) = (-100_000_000, 100_000_000);

/// Exposure of one family, site and model year.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExposureRow {
    /// Engine family.
    pub family: KeyPart,
    /// Site.
    pub site: Option<String>,
    /// Model year, where the tally is split by it; else unknown.
    pub model_year: KeyPart,
    /// Metres in each band.
    pub bands_m: Vec<i64>,
    /// Metres at an unknown place on the engine's clock.
    pub unknown_m: i64,
    /// First day of the exposure.
    pub first: Option<Day>,
    /// Last day of the exposure.
    pub last: Option<Day>,
}

impl ExposureRow {
    /// All metres.
    pub fn total_m(&self) -> i64 {
        self.bands_m.iter().sum::<i64>() + self.unknown_m
    }
}

/// Vehicles at risk of one family, site and model year.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VehicleRow {
    /// Engine family.
    pub family: KeyPart,
    /// Site, where the tally is split by it; else unknown.
    pub site: KeyPart,
    /// Model year, where the tally is split by it; else unknown.
    pub model_year: KeyPart,
    /// Vehicles with any exposure.
    pub vehicles: u64,
    /// Vehicles with exposure in each band.
    pub bands: Vec<u64>,
    /// Vehicles with exposure at an unknown place on the engine's clock.
    pub unknown: u64,
}

/// How exposure is to be summed.
pub(super) struct Wanted<'a> {
    pub filter: &'a Filter,
    pub bands: &'a MileageBands,
    pub exposure: Exposure,
    pub by_site: bool,
    pub by_year: bool,
}

impl Wanted<'_> {
    fn parameters(&self, history: &History) -> Parameters {
        let filter = self.filter;
        let source = if filter.by_calendar() {
            "stretches"
        } else {
            "pieces"
        };
        let cut_off = match self.exposure {
            Exposure::Observed | Exposure::LastSighting => None,
            Exposure::Carried => filter.to.or(history.cut_off()),
        };
        let (distance, exit) = reach(self.exposure);
        let mut parameters = filter.of_exposure();
        parameters.extend(calendar(filter));
        parameters.extend([
            ("source", Value::Column(source)),
            ("distance", Value::Column(distance)),
            ("exit", Value::Column(exit)),
            once("cutoff", cut_off.map(|d| Value::Int(i64::from(d.0)))),
            ("upper", upper_edges(self.bands)),
            switch("by_year", self.by_year),
        ]);
        parameters
    }

    /// Metres by family and site (and model year).
    pub fn metres(&self, engine: &mut dyn Engine, history: &History) -> Result<Vec<ExposureRow>> {
        let batch = statement::query(engine, "exposure", &self.parameters(history))?;
        let table = Table::new(&batch);
        let families = table.text("engine_family")?;
        let sites = table.text("site")?;
        let years = self.years(&table)?;
        let unknown = table.count("unknown_m")?;
        let first = table.day("first_day")?;
        let last = table.day("last_day")?;
        let below = columns(&table, "below_", self.bands.len())?;
        let mut rows = Vec::with_capacity(table.len());
        for (i, (((((family, site), year), unknown_m), first), last)) in families
            .into_iter()
            .zip(sites)
            .zip(years)
            .zip(unknown)
            .zip(first)
            .zip(last)
            .enumerate()
        {
            rows.push(ExposureRow {
                family: KeyPart::text(family),
                site,
                model_year: year,
                bands_m: differences(below.iter().filter_map(|c| c.get(i).copied())),
                unknown_m,
                first,
                last,
            });
        }
        Ok(rows)
    }

    /// Vehicles at risk by family (and site, and model year); a key has a row for each portion of the fleet, and they sum.
    pub fn vehicles(&self, engine: &mut dyn Engine, history: &History) -> Result<Vec<VehicleRow>> {
        let mut rows = Vec::new();
        for portion in portions(history) {
            rows.extend(self.vehicles_of(engine, history, portion)?);
        }
        Ok(rows)
    }

    fn vehicles_of(
        &self,
        engine: &mut dyn Engine,
        history: &History,
        portion: Portion,
    ) -> Result<Vec<VehicleRow>> {
        let mut parameters = self.parameters(history);
        parameters.extend(portion.parameters());
        let bands = i64::try_from(self.bands.len()).unwrap_or(i64::MAX);
        parameters.extend([
            switch("by_site", self.by_site),
            (
                "next_band",
                Value::Each((1..bands).map(Value::Int).collect()),
            ),
        ]);
        let batch = statement::query(engine, "exposure_vehicles", &parameters)?;
        let table = Table::new(&batch);
        let families = table.text("engine_family")?;
        let sites = match self.by_site {
            true => table.text("site")?,
            false => vec![None; table.len()],
        };
        let years = self.years(&table)?;
        let vehicles = table.count("vehicles")?;
        let unknown = table.count("unknown_band")?;
        let bands = columns(&table, "band_", self.bands.len())?;
        let mut rows = Vec::with_capacity(table.len());
        for (i, ((((family, site), year), vehicles), unknown)) in families
            .into_iter()
            .zip(sites)
            .zip(years)
            .zip(vehicles)
            .zip(unknown)
            .enumerate()
        {
            rows.push(VehicleRow {
                family: KeyPart::text(family),
                site: KeyPart::text(site),
                model_year: year,
                vehicles: natural(vehicles),
                bands: bands
                    .iter()
                    .filter_map(|c| c.get(i).copied().map(natural))
                    .collect(),
                unknown: natural(unknown),
            });
        }
        Ok(rows)
    }

    fn years(&self, table: &Table<'_>) -> Result<Vec<KeyPart>> {
        Ok(match self.by_year {
            true => table
                .whole("model_year")?
                .into_iter()
                .map(KeyPart::number)
                .collect(),
            false => vec![KeyPart::Unknown; table.len()],
        })
    }
}

/// The columns that say how far a stretch counts: its distance and its last day.
pub(super) fn reach(exposure: Exposure) -> (&'static str, &'static str) {
    match exposure {
        Exposure::Observed => ("distance_m", "exit_date"),
        Exposure::LastSighting | Exposure::Carried => ("to_sighting_m", "sighting_date"),
    }
}

/// The days between which exposure counts. Exposure of a day comes about by its end: the window opens at the end of the day
/// before the first.
pub(super) fn calendar(filter: &Filter) -> Parameters {
    let day = |d: Option<Day>, otherwise: i64| d.map_or(otherwise, |d| i64::from(d.0));
    vec![
        ("before_first", Value::Int(day(filter.from, EVER.0) - 1)),
        ("last_day", Value::Int(day(filter.to, EVER.1))),
    ]
}

fn columns(table: &Table<'_>, prefix: &str, count: usize) -> Result<Vec<Vec<i64>>> {
    (0..count)
        .map(|i| table.count(&format!("{prefix}{i}")))
        .collect()
}

/// Metres between edges out of metres below each upper edge.
fn differences(below: impl Iterator<Item = i64>) -> Vec<i64> {
    let mut before = 0;
    below
        .map(|b| {
            let band = b - before;
            before = b;
            band
        })
        .collect()
}

/// Counts of statements are never negative.
pub(super) fn natural(count: i64) -> u64 {
    u64::try_from(count).unwrap_or(0)
}
