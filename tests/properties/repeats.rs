//! The mean cumulative function and its robust variance, by way of the statements, against a slow twin that asks every vehicle at every
//! event. Places lie on a coarse grid, so that ties, late entry, gaps and an empty risk set are everywhere.

use std::collections::BTreeMap;
use std::sync::Arc;

use arrow::array::{ArrayRef, BooleanArray, Date32Array, Int64Array, StringArray};
use arrow::record_batch::RecordBatch;
use boretally::answer::label::Labels;
use boretally::answer::question::{Question, Rules};
use boretally::answer::repeats::compute::{Input, marks};
use boretally::answer::repeats::{self, Repeats};
use boretally::domain::catalog::Catalog;
use boretally::domain::distance::UnitSystem;
use boretally::domain::family::Families;
use boretally::domain::mileage_band::MileageBands;
use boretally::history::episode_tables::EPISODE_TABLES;
use boretally::history::span_tables::SPAN_TABLES;
use boretally::history::table::Derived;
use boretally::history::{History, HistoryAccount, HistoryOptions};
use boretally::query::engine::{Engine, Rows};
use boretally::query::local::Local;
use boretally::tally::repeats::Asked;
use boretally::tally::{Dimension, Exposure, Filter};
use proptest::prelude::*;

/// Vehicle, window, from, to.
type Window = (usize, usize, i64, i64);

const FAMILIES: &str = r#"[[family]]
id = "a"
title = "A"
cylinders = 4
layout = "inline"
match = [{ engine = "A" }]
[[family]]
id = "b"
title = "B"
cylinders = 6
layout = "vee"
match = [{ engine = "B" }]
"#;

/// A grid step in metres.
const STEP: i64 = 10_000_000;

/// One vehicle: its family, its windows (from, to] one an engine or segment, and places of failures inside them.
#[derive(Debug, Clone)]
struct Vehicle {
    family: &'static str,
    windows: Vec<(i64, i64)>,
    failures: Vec<i64>,
}

fn vehicle() -> impl Strategy<Value = Vehicle> {
    let window = (0i64..7, 1i64..7);
    let windows = prop::collection::vec(window, 1..3);
    (
        any::<bool>(),
        windows,
        prop::collection::vec(1i64..14, 0..4),
        any::<bool>(),
    )
        .prop_map(|(a, windows, places, quiet)| {
            let windows: Vec<(i64, i64)> = windows
                .into_iter()
                .map(|(from, long)| (from, from + long))
                .collect();
            let inside = |p: &i64| windows.iter().any(|(from, to)| from < p && p <= to);
            let failures = places.into_iter().filter(|p| !quiet && inside(p)).collect();
            Vehicle {
                family: if a { "a" } else { "b" },
                windows,
                failures,
            }
        })
}

fn register(engine: &mut Local, name: &str, columns: Vec<(&str, ArrayRef)>) {
    let batch = RecordBatch::try_from_iter(columns).expect("a batch");
    engine
        .register(name, Rows::Memory(batch))
        .expect("registered");
}

fn whole(values: Vec<i64>) -> ArrayRef {
    Arc::new(Int64Array::from(values))
}

fn text(values: Vec<String>) -> ArrayRef {
    Arc::new(StringArray::from(values))
}

/// History as the statements read it: windows of one vehicle are engines in turn, each on its own clock.
fn engine_with(vehicles: &[Vehicle]) -> Local {
    let mut engine = Local::new();
    for table in SPAN_TABLES.iter().chain(EPISODE_TABLES) {
        let Derived { name, .. } = *table;
        let rows = Rows::Parquet {
            files: Vec::new(),
            schema: table.schema(),
        };
        engine.register(name, rows).expect("registered");
    }
    let windows: Vec<Window> = vehicles
        .iter()
        .enumerate()
        .flat_map(|(v, vehicle)| {
            vehicle
                .windows
                .iter()
                .enumerate()
                .map(move |(e, w)| (v, e, w.0, w.1))
        })
        .collect();
    let each = |take: &dyn Fn(&Window) -> i64| whole(windows.iter().map(take).collect());
    let named = |take: &dyn Fn(usize) -> String| text(windows.iter().map(|w| take(w.0)).collect());
    let days = |day: i32| -> ArrayRef { Arc::new(Date32Array::from(vec![day; windows.len()])) };
    for (name, place) in [("spans", "main_site"), ("pieces", "site")] {
        let columns: Vec<(&str, ArrayRef)> = vec![
            ("vehicle", each(&|w| w.0 as i64)),
            ("engine_no", each(&|w| w.1 as i64)),
            ("segment", each(&|_| 1)),
            ("engine_family", named(&|v| vehicles[v].family.to_owned())),
            ("model_year", each(&|_| 2015)),
            (place, named(&|_| "Larkmouth".to_owned())),
            ("entry_m", each(&|w| w.2 * STEP)),
            ("distance_m", each(&|w| (w.3 - w.2) * STEP)),
            ("to_sighting_m", each(&|w| (w.3 - w.2) * STEP)),
            ("entry_date", days(10_000)),
            ("exit_date", days(11_000)),
            ("sighting_date", days(11_000)),
        ];
        register(&mut engine, name, columns);
    }
    let failures: Vec<(usize, i64, i64)> = vehicles
        .iter()
        .enumerate()
        .flat_map(|(v, vehicle)| {
            vehicle
                .failures
                .iter()
                .enumerate()
                .map(move |(i, p)| (v, i as i64, *p))
        })
        .collect();
    let engine_of = |v: usize, p: i64| {
        let holds = |w: &(i64, i64)| w.0 < p && p <= w.1;
        vehicles[v]
            .windows
            .iter()
            .position(holds)
            .expect("a window") as i64
    };
    let each =
        |take: &dyn Fn(&(usize, i64, i64)) -> i64| whole(failures.iter().map(take).collect());
    let named =
        |take: &dyn Fn(&(usize, i64, i64)) -> String| text(failures.iter().map(take).collect());
    let flags =
        |flag: bool| -> ArrayRef { Arc::new(BooleanArray::from(vec![flag; failures.len()])) };
    let days: ArrayRef = Arc::new(Date32Array::from(vec![10_500; failures.len()]));
    let case = |f: &(usize, i64, i64)| format!("c{}-{}", f.0, f.1);
    register(
        &mut engine,
        "episodes",
        vec![
            ("vehicle", each(&|f| f.0 as i64)),
            ("cylinder", each(&|f| f.1 + 1)),
            ("chain", each(&|_| 1)),
            ("cause", named(&|_| "spark_plug".to_owned())),
            ("opened", days),
            ("site", named(&|_| "Larkmouth".to_owned())),
            ("engine_family", named(&|f| vehicles[f.0].family.to_owned())),
            ("model_year", each(&|_| 2015)),
            ("engine_no", each(&|f| engine_of(f.0, f.2))),
            ("position_m", each(&|f| f.2 * STEP)),
            ("under_observation", flags(true)),
            ("after_last_visit", flags(false)),
            ("source", named(&|_| "s".to_owned())),
            ("case_id", named(&case)),
        ],
    );
    register(
        &mut engine,
        "chain_cases",
        vec![
            ("source", named(&|_| "s".to_owned())),
            ("case_id", named(&case)),
            ("cylinder_key", each(&|f| f.1 + 1)),
            ("position_m", each(&|f| f.2 * STEP)),
        ],
    );
    engine
}

fn ask(vehicles: &[Vehicle], by: &[Dimension], bands: &MileageBands) -> Repeats {
    let catalog = Catalog::embedded().expect("the catalog");
    let families = Families::from_toml(FAMILIES, "families.toml").expect("families");
    let history = History {
        options: HistoryOptions::default(),
        account: HistoryAccount::default(),
    };
    let (filter, marks) = (Filter::default(), marks(bands));
    let asked = Asked {
        filter: &filter,
        dimensions: by,
        bands,
        exposure: Exposure::Observed,
        marks: &marks,
        currency: None,
        price_year: None,
        only_failures: true,
    };
    let mut engine = engine_with(vehicles);
    let tally = boretally::tally::repeats::tally(&mut engine, &history, asked, &catalog, &families)
        .expect("a tally");
    let rules = Rules {
        confirmation: 1,
        window_days: 30,
        window_m: 1_600_000,
        exposure: Exposure::Observed,
        units: UnitSystem::Metric,
        level: 0.95,
        method: "wilson".to_owned(),
    };
    repeats::answer(Input {
        question: Question::new(&filter, by, &rules),
        rules: &rules,
        tally: &tally,
        marks: &marks,
        alternatives: &[],
        labels: Labels {
            catalog: &catalog,
            families: &families,
            bands,
        },
    })
    .expect("an answer")
}

/// Number at risk, mean and robust variance at a place, asked of every vehicle at every event.
fn twin(vehicles: &[&Vehicle], at: i64) -> (u64, f64, f64) {
    let watched =
        |v: &Vehicle, p: i64| v.windows.iter().filter(|w| w.0 < p && p <= w.1).count() as f64;
    let at_risk = |p: i64| vehicles.iter().map(|v| watched(v, p)).sum::<f64>();
    let failed = |v: &Vehicle, p: i64| v.failures.iter().filter(|f| **f == p).count() as f64;
    let places: Vec<i64> = (1..=at)
        .filter(|p| vehicles.iter().any(|v| failed(v, *p) > 0.0))
        .collect();
    let increment = |p: i64| vehicles.iter().map(|v| failed(v, p)).sum::<f64>() / at_risk(p);
    let mean = places.iter().map(|p| increment(*p)).sum();
    let deviation = |v: &&Vehicle| -> f64 {
        let of = |p: &i64| (failed(v, *p) - watched(v, *p) * increment(*p)) / at_risk(*p);
        places.iter().map(of).sum()
    };
    let variance = vehicles.iter().map(|v| deviation(v).powi(2)).sum();
    (at_risk(at) as u64, mean, variance)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn counting_quiet_vehicles_by_events_loses_nothing(vehicles in prop::collection::vec(vehicle(), 1..16)) {
        let bands = MileageBands { edges: vec![0, 3 * STEP, 8 * STEP], ..MileageBands::default_for(UnitSystem::Metric) };
        let mut by_family: BTreeMap<&str, Vec<&Vehicle>> = BTreeMap::new();
        for vehicle in &vehicles {
            by_family.entry(vehicle.family).or_default().push(vehicle);
        }
        let split = ask(&vehicles, &[Dimension::Family], &bands);
        prop_assert_eq!(split.groups.len(), by_family.len());
        let whole = ask(&vehicles, &[], &bands);
        let everyone: Vec<&Vehicle> = vehicles.iter().collect();
        let twins = by_family.values().chain([&everyone]);
        for (group, vehicles) in split.groups.iter().chain(&whole.groups).zip(twins) {
            let events: usize = vehicles.iter().map(|v| v.failures.len()).sum();
            prop_assert_eq!(group.evidence.events, events as u64);
            prop_assert_eq!((group.unplaced, group.walk_ins), (0, 0));
            for point in group.at.iter().chain(&group.curve) {
                let (at_risk, mean, variance) = twin(vehicles, point.distance_m / STEP);
                prop_assert_eq!(point.at_risk, at_risk, "at {}", point.distance_m);
                let Some(got) = &point.mean else {
                    prop_assert_eq!(mean, 0.0);
                    continue;
                };
                prop_assert!((got.value - mean).abs() <= 1e-12 * mean, "{got:?} {mean}");
                // R 4.2: qnorm(0.975).
                let upper = mean * (1.959963984540054 * variance.sqrt() / mean).exp();
                // A variance of 0 is reached to rounding only.
                prop_assert!((got.upper.unwrap() - upper).abs() <= 1e-7 * upper, "{got:?} {upper} {variance}");
                if variance > 1e-6 {
                    prop_assert!((got.upper.unwrap() - upper).abs() <= 1e-11 * upper, "{got:?} {upper} {variance}");
                }
            }
        }
    }
}
