//! Two hundred invented fleets in one store, each a site of its own, with what is true in them.
//!
//! A vehicle belongs to one fleet, so a tally by site is a tally by fleet, and one history serves all of them. Vehicles come
//! under observation at some later distance (customers who join late, records that begin in the middle of a life), leave at
//! a service whatever failed, and walk in broken. [`World::brought_in`] is the world where nothing but services and failures
//! bring a vehicle in.

use std::collections::BTreeMap;

use boretally::domain::distance::UnitSystem;
use boretally::domain::family::Families;
use boretally::domain::mileage_band::MileageBands;
use boretally::domain::table::Table;
use boretally::domain::version;
use boretally::history::{History, HistoryOptions, open};
use boretally::query::local::Local;
use boretally::store::rows::index_of;
use boretally::store::{BatchAccount, BatchHeader, BatchWriter, Begin, InitOptions, Store};
use boretally::synth::families_file;
use boretally::synth::record::{Case, Finding, Owner, VehicleLife, Visit, VisitKind};
use boretally::synth::scenario::Scenario;
use boretally::synth::simulate;
use boretally::tally::{Dimension, Exposure, Filter, KeyPart, rates};

pub const FLEETS: u64 = 200;
const VEHICLES: u64 = 110;
const METRES_PER_100_000_KM: f64 = 1e8;

/// What one cell counts, and what is true of it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Cell {
    /// Failures under observation.
    pub events: u64,
    /// Failures of vehicles never seen before.
    pub walk_ins: u64,
    /// Metres: the denominator.
    pub exposure_m: i64,
    /// Expected failures over these metres at the true rates.
    pub expected: f64,
}

impl Cell {
    /// Adds another cell.
    pub fn add(&mut self, other: &Cell) {
        self.events += other.events;
        self.walk_ins += other.walk_ins;
        self.exposure_m += other.exposure_m;
        self.expected += other.expected;
    }
}

/// Cells by fleet, family and band.
pub type Cells = BTreeMap<(String, usize, usize), Cell>;

/// All fleets, tallied.
pub struct World {
    /// Every confirmed failure, as the tool counts and as it measures distance.
    pub all: Cells,
    /// Of one cause.
    pub coils: Cells,
    /// Every confirmed failure of a vehicle seen before, and distance, to the last sighting of any kind.
    pub to_last_sighting: Cells,
    /// Failures seen after the observation of their vehicle had ended.
    pub after_last_visit: u64,
    /// Distance from 0 to the last odometer of each vehicle; nothing counted.
    pub from_zero: Cells,
    /// Vehicles that came under observation beyond 20,000 km.
    pub entered_late: u64,
    /// Vehicles seen for the last time more than 30 days before the records end.
    pub left_early: u64,
}

/// The shipped scenario with few units of the delivery fleet, whose monthly polls would be most of the rows.
fn statements_too() -> Scenario {
    let mut scenario = Scenario::embedded().expect("the shipped scenario");
    scenario.behaviour.fleet_share = 0.1;
    scenario
}

/// No fleet, no yearly statement, a service every 400 days or so.
fn services_only() -> Scenario {
    let mut scenario = Scenario::embedded().expect("the shipped scenario");
    scenario.behaviour.fleet_share = 0.0;
    scenario.behaviour.yearly_statement = 0.0;
    scenario.behaviour.service_days[0] = 400.0;
    scenario
}

/// True rate per metre of failures that end as a confirmed finding: the sum over causes and cylinders.
fn true_rate(scenario: &Scenario, family: usize, band: usize, only: Option<&str>) -> f64 {
    let f = &scenario.families[family];
    let causes = scenario
        .causes
        .iter()
        .filter(|c| only.is_none_or(|id| c.id == id));
    let of_cause = causes.map(|cause| {
        let cylinders = 0..=f.cylinders;
        let hazard: f64 = cylinders
            .map(|cylinder| scenario.hazard(f, cause, cylinder, band))
            .sum();
        hazard * scenario.confirmed_share(cause, 1)
    });
    of_cause.sum::<f64>() / METRES_PER_100_000_KM
}

/// Writes rows of vehicles into one batch.
struct Writer {
    batch: Box<BatchWriter>,
    lines: i64,
}

impl Writer {
    fn begin(store: &Store) -> Self {
        let header = BatchHeader {
            source: "fleets".into(),
            file: "fleets.csv".into(),
            content_hash: "fleets".into(),
            mapping: "fleets.mapping.toml".into(),
            mapping_hash: "m".into(),
            export_date: None,
        };
        match store.begin_batch(header).expect("a batch") {
            Begin::New(batch) => Self { batch, lines: 0 },
            Begin::AlreadyThere(info) => panic!("{} is there already", info.id),
        }
    }

    fn row(&mut self, table: Table, record: &str, cells: &[(&str, Value)]) {
        self.lines += 1;
        let sink = self.batch.sink(table).expect("a sink");
        let column = |name: &str| index_of(table, name).expect(name);
        for (name, value) in cells {
            match value {
                Value::Text(text) => sink.text(column(name), text),
                Value::Whole(n) => sink.whole(column(name), *n),
                Value::Day(day) => sink.day(column(name), *day),
                Value::Flag(flag) => sink.flag(column(name), *flag),
            }
        }
        sink.text(column("record"), record);
        let key = version::key_hash("", table, record);
        sink.whole(column("digest"), version::digest(key, self.lines as u64));
        sink.whole(column("line"), self.lines);
        sink.end_row().expect("a row");
    }

    fn commit(self) {
        let lines = self.lines as u64;
        let account = BatchAccount {
            read: lines,
            kept: lines,
            ..BatchAccount::default()
        };
        self.batch.commit(account).expect("a commit");
    }
}

enum Value<'a> {
    Text(&'a str),
    Whole(i64),
    Day(boretally::domain::day::Day),
    Flag(bool),
}

/// A vehicle of a fleet, on its way into the store.
struct Sold<'a> {
    scenario: &'a Scenario,
    fleet: &'a str,
    vehicle: String,
    life: &'a VehicleLife,
}

impl Sold<'_> {
    fn write(&self, writer: &mut Writer) {
        for (i, visit) in self.life.visits.iter().enumerate() {
            self.visit(writer, i, visit);
        }
        for case in &self.life.cases {
            self.case(writer, case);
        }
    }

    fn family(&self) -> &str {
        &self.scenario.families[self.life.family].id
    }

    fn visit(&self, writer: &mut Writer, i: usize, visit: &Visit) {
        let replaced = visit.kind == VisitKind::EngineReplaced;
        let cells = [
            ("vehicle", Value::Text(&self.vehicle)),
            ("site", Value::Text(self.fleet)),
            ("date", Value::Day(visit.day)),
            ("odometer_m", Value::Whole(visit.odometer_m)),
            ("engine_family", Value::Text(self.family())),
            ("model_year", Value::Whole(self.life.model_year.into())),
            ("engine_replaced", Value::Flag(replaced)),
        ];
        writer.row(Table::Visits, &format!("{} v{i}", self.vehicle), &cells);
    }

    fn case(&self, writer: &mut Writer, case: &Case) {
        let id = format!("{} c{}", self.vehicle, case.number);
        let mut cells = vec![
            ("case_id", Value::Text(&id)),
            ("vehicle", Value::Text(&self.vehicle)),
            ("site", Value::Text(self.fleet)),
            ("opened", Value::Day(case.opened)),
            ("closed", Value::Day(case.closed)),
            ("odometer_m", Value::Whole(case.odometer_m)),
            ("engine_family", Value::Text(self.family())),
            ("model_year", Value::Whole(self.life.model_year.into())),
            ("outcome", Value::Text(case.outcome.id())),
        ];
        let named = case.complaint_cylinder.map(i64::from);
        cells.extend(named.map(|c| ("complaint_cylinder", Value::Whole(c))));
        writer.row(Table::Cases, &id, &cells);
        for finding in &case.findings {
            self.finding(writer, &id, finding);
        }
    }

    fn finding(&self, writer: &mut Writer, case: &str, finding: &Finding) {
        let cause = &self.scenario.causes[finding.cause].id;
        let mut cells = vec![
            ("case_id", Value::Text(case)),
            ("cause", Value::Text(cause)),
            ("confirmation", Value::Whole(finding.confirmation.into())),
            ("repair", Value::Text(&finding.repair)),
        ];
        let cylinder = i64::from(finding.cylinder);
        cells.extend((cylinder > 0).then_some(("cylinder", Value::Whole(cylinder))));
        writer.row(Table::Findings, &format!("{case} {cause}"), &cells);
    }
}

/// Last day and odometer of a vehicle, from visits and cases alike.
fn last_seen(life: &VehicleLife) -> (i32, i64) {
    let visits = life.visits.iter().map(|v| (v.day.0, v.odometer_m));
    let cases = life.cases.iter().map(|c| (c.opened.0, c.odometer_m));
    visits.chain(cases).max().expect("seen at least once")
}

impl World {
    /// Where customers also state their odometer at the year's end, and units are polled.
    pub fn with_statements() -> Self {
        Self::build(statements_too())
    }

    /// Where nothing but services and failures bring a vehicle in.
    pub fn brought_in() -> Self {
        Self::build(services_only())
    }

    /// Simulates, stores and tallies.
    fn build(scenario: Scenario) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let store =
            Store::init(folder.path().join("store"), &InitOptions::default()).expect("a store");
        let text = families_file::text(&scenario).expect("families");
        let families = Families::from_toml(&text, "families.toml").expect("families");
        store.add_families(&families).expect("families");
        let mut world = Self {
            all: Cells::new(),
            coils: Cells::new(),
            to_last_sighting: Cells::new(),
            after_last_visit: 0,
            from_zero: Cells::new(),
            entered_late: 0,
            left_early: 0,
        };
        let mut writer = Writer::begin(&store);
        for number in 0..FLEETS {
            let fleet = format!("fleet-{number:03}");
            for life in simulate(&scenario, 40_000 + number, VEHICLES).expect("a fleet") {
                world.note(&scenario, &fleet, &life);
                let vehicle = format!("{fleet}-{}", life.index);
                Sold {
                    scenario: &scenario,
                    fleet: &fleet,
                    vehicle,
                    life: &life,
                }
                .write(&mut writer);
            }
        }
        writer.commit();
        let mut engine = Local::new();
        let history = open(&store, &mut engine, &HistoryOptions::default()).expect("history");
        world.after_last_visit = history.account.episodes.after_last_visit;
        let mut tallied = |only: Option<&str>, exposure: Exposure| {
            tallied(&scenario, &families, &mut engine, &history, only, exposure)
        };
        world.all = tallied(None, Exposure::Observed);
        world.coils = tallied(Some("ignition_coil"), Exposure::Observed);
        world.to_last_sighting = tallied(None, Exposure::LastSighting);
        world
    }

    fn note(&mut self, scenario: &Scenario, fleet: &str, life: &VehicleLife) {
        let (day, odometer) = last_seen(life);
        let entry = life.observed.first().map_or(0, |(from, _)| *from);
        self.entered_late += u64::from(entry > 20_000_000);
        // The last day of the records is 2023-12-31.
        let last_day = boretally::domain::day::Day::parse_iso("2023-12-31").expect("a day");
        self.left_early += u64::from(life.owner == Owner::Customer && day < last_day.0 - 30);
        let bands = MileageBands::default_for(UnitSystem::Metric);
        for band in 0..bands.len() {
            let (from, to) = bands.bounds(band);
            let exposure_m = odometer.min(to.unwrap_or(i64::MAX)) - from;
            if exposure_m <= 0 {
                continue;
            }
            let expected = true_rate(scenario, life.family, band, None) * exposure_m as f64;
            let cell = Cell {
                exposure_m,
                expected,
                ..Cell::default()
            };
            let key = (fleet.to_owned(), life.family, band);
            self.from_zero.entry(key).or_default().add(&cell);
        }
    }
}

fn tallied(
    scenario: &Scenario,
    families: &Families,
    engine: &mut Local,
    history: &History,
    only: Option<&str>,
    exposure: Exposure,
) -> Cells {
    let bands = MileageBands::default_for(UnitSystem::Metric);
    let edges: Vec<i64> = scenario.band_edges_km.iter().map(|e| e * 1000).collect();
    assert_eq!(bands.edges, edges, "rates must be constant within a band");
    let filter = Filter {
        causes: only.map(str::to_owned).into_iter().collect(),
        ..Filter::default()
    };
    let by = [Dimension::Site, Dimension::Family, Dimension::Band];
    let tally = rates::tally(
        engine,
        rates::Asked {
            history,
            filter: &filter,
            dimensions: &by,
            bands: &bands,
            exposure,
            families,
        },
    )
    .expect("a tally");
    let mut cells = Cells::new();
    for cell in &tally.cells {
        let [
            KeyPart::Text(fleet),
            KeyPart::Text(family),
            KeyPart::Band(band),
        ] = &cell.key[..]
        else {
            panic!("a fleet without trouble has no unknown place: {cell:?}");
        };
        let family = scenario
            .families
            .iter()
            .position(|f| f.id == *family)
            .expect("a family");
        let truth = Cell {
            events: cell.events,
            walk_ins: cell.walk_ins,
            exposure_m: cell.exposure_m,
            expected: true_rate(scenario, family, *band, only) * cell.exposure_m as f64,
        };
        cells
            .entry((fleet.clone(), family, *band))
            .or_default()
            .add(&truth);
    }
    cells
}
