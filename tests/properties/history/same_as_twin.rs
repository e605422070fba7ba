//! The statements and the twin agree on invented fleets.

use std::collections::{BTreeMap, BTreeSet};

use boretally::domain::day::Day;
use boretally::domain::distance::{DistanceUnit, UnitSystem};
use boretally::domain::family::Families;
use boretally::domain::mileage_band::MileageBands;
use boretally::history::rows::Table;
use boretally::history::{History, HistoryOptions, Inputs, open_over, open_sliced};
use boretally::query::engine::Engine;
use boretally::query::local::Local;
use boretally::tally::rates::RateTally;
use boretally::tally::shares::{self, Complaint};
use boretally::tally::{Dimension, Exposure, Filter, KeyPart, cylinders, rates};

use super::fleet::{fleet, shuffled};
use super::rows::Records;
use super::twin::{Carry, Episode, Stretch, Twin, twin};
use super::twin_tally::{Keep, band_of, exposure};

fn open(records: &Records, options: &HistoryOptions) -> (Local, History, tempfile::TempDir) {
    let folder = tempfile::tempdir().expect("a folder");
    let mut engine = Local::new();
    let mut register = |engine: &mut dyn Engine| records.register(engine);
    let inputs = Inputs {
        folder: folder.path(),
        fingerprint: "test",
        // Three slices of digests.
        rows: 15_000_000,
        register: &mut register,
    };
    let history = open_over(inputs, &mut engine, options).expect("history");
    (engine, history, folder)
}

/// All rows of a table, with the names of their vehicles.
fn with_names(table: &str) -> String {
    format!(
        "SELECT t.*, n.vehicle_key FROM {table} AS t JOIN vehicle_numbers AS n ON t.vehicle = n.vehicle"
    )
}

fn stretches(engine: &mut Local) -> Vec<Stretch> {
    let batch = engine.query(&with_names("stretches")).expect("stretches");
    let t = Table::new(&batch);
    let text = |n| t.text(n).expect(n);
    let whole = |n| t.whole(n).expect(n);
    let day = |n| t.day(n).expect(n);
    let (vehicle, site, family) = (text("vehicle_key"), text("site"), text("engine_family"));
    let (engine_no, segment, year) = (whole("engine_no"), whole("segment"), whole("model_year"));
    let (entry, exit, distance) = (whole("entry_m"), whole("exit_m"), whole("distance_m"));
    let (d0, d1, d2) = (day("entry_date"), day("exit_date"), day("sighting_date"));
    let (o0, o1) = (whole("entry_odometer_m"), whole("exit_odometer_m"));
    let (o2, further) = (whole("sighting_odometer_m"), whole("to_sighting_m"));
    let observed = whole("observed");
    let mut rows: Vec<Stretch> = (0..t.len())
        .map(|i| {
            assert_eq!(distance[i].unwrap(), o1[i].unwrap() - o0[i].unwrap());
            assert_eq!(further[i].unwrap(), o2[i].unwrap() - o0[i].unwrap());
            Stretch {
                vehicle: vehicle[i].clone().unwrap(),
                engine: engine_no[i].unwrap(),
                segment: segment[i].unwrap(),
                site: site[i].clone().unwrap(),
                family: family[i].clone(),
                year: year[i],
                clock: entry[i].zip(exit[i]),
                from: (d0[i].unwrap().0, o0[i].unwrap()),
                to: (d1[i].unwrap().0, o1[i].unwrap()),
                sighting: (d2[i].unwrap().0, o2[i].unwrap()),
                observed: observed[i] == Some(1),
            }
        })
        .collect();
    rows.sort();
    rows
}

fn episodes(engine: &mut Local) -> Vec<Episode> {
    let batch = engine.query(&with_names("episodes")).expect("episodes");
    let t = Table::new(&batch);
    let text = |n| t.text(n).expect(n);
    let whole = |n| t.whole(n).expect(n);
    let flag = |n| t.flag(n).expect(n);
    let opened = t.day("opened").expect("opened");
    let (vehicle, site, family) = (text("vehicle_key"), text("site"), text("engine_family"));
    let (cause, codes) = (text("cause"), text("codes"));
    let (cylinder, year, level) = (
        whole("cylinder"),
        whole("model_year"),
        whole("confirmation"),
    );
    let (odometer, position) = (whole("odometer_m"), whole("position_m"));
    let (comebacks, place) = (whole("comebacks"), whole("place"));
    let (primary, observed) = (flag("is_primary"), flag("under_observation"));
    let after = flag("after_last_visit");
    let mut rows: Vec<Episode> = (0..t.len())
        .map(|i| Episode {
            vehicle: vehicle[i].clone().unwrap(),
            cylinder: cylinder[i],
            opened: opened[i].unwrap().0,
            cause: cause[i].clone().unwrap(),
            primary: primary[i].unwrap(),
            confirmation: level[i].unwrap(),
            site: site[i].clone().unwrap(),
            family: family[i].clone(),
            year: year[i],
            odometer: odometer[i],
            position: position[i],
            observed: observed[i].unwrap(),
            seen_before: observed[i].unwrap() || after[i].unwrap(),
            comebacks: comebacks[i].unwrap(),
            codes: codes[i].clone(),
            event: 0,
            place: place[i].unwrap(),
        })
        .collect();
    rows.sort();
    rows
}

fn carries(engine: &mut Local) -> Vec<Carry> {
    let batch = engine.query(&with_names("carries")).expect("carries");
    let t = Table::new(&batch);
    let text = |n| t.text(n).expect(n);
    let whole = |n| t.whole(n).expect(n);
    let day = t.day("from_date").expect("from_date");
    let (vehicle, site, family) = (text("vehicle_key"), text("site"), text("engine_family"));
    let (year, from) = (whole("model_year"), whole("from_m"));
    let (pace_m, pace_days) = (whole("pace_m"), whole("pace_days"));
    let mut rows: Vec<Carry> = (0..t.len())
        .map(|i| Carry {
            vehicle: vehicle[i].clone().unwrap(),
            site: site[i].clone().unwrap(),
            family: family[i].clone(),
            year: year[i],
            from: from[i],
            day: day[i].unwrap().0,
            pace_m: pace_m[i].unwrap(),
            pace_days: pace_days[i].unwrap(),
        })
        .collect();
    rows.sort();
    rows
}

/// Whether both lists hold the same; tells only what differs.
fn same<T: Ord + std::fmt::Debug>(found: &[T], expected: &[T], told: &str) {
    let (a, b): (BTreeSet<&T>, BTreeSet<&T>) = (found.iter().collect(), expected.iter().collect());
    let extra: Vec<_> = a.difference(&b).collect();
    let missing: Vec<_> = b.difference(&a).collect();
    assert!(
        extra.is_empty() && missing.is_empty() && found.len() == expected.len(),
        "{told}: found {extra:#?}, expected {missing:#?}"
    );
}

fn families() -> Families {
    let text = "[[family]]\nid = \"alder-4\"\ncylinders = 4\nlayout = \"inline\"\n\
                [[family]]\nid = \"rowan-3\"\ncylinders = 3\nlayout = \"inline\"\n";
    Families::from_toml(text, "families.toml").expect("families")
}

fn options(window_days: i64, confirmation: i64) -> HistoryOptions {
    HistoryOptions {
        window_days,
        confirmation,
        ..HistoryOptions::default()
    }
}

#[test]
fn spans_and_episodes_are_the_twins() {
    let mut met = BTreeMap::<&str, u64>::new();
    for seed in 0..3 {
        let records = fleet(seed, 160);
        for options in [options(30, 1), options(15, 0), options(90, 2)] {
            let (mut engine, history, _folder) = open(&records, &options);
            let expected = twin(
                &records,
                options.window_days,
                options.window_m,
                options.confirmation,
            );
            assert_eq!(stretches(&mut engine), expected.stretches, "seed {seed}");
            assert_eq!(carries(&mut engine), expected.carries, "seed {seed}");
            let mut expected_episodes = expected.episodes.clone();
            expected_episodes.iter_mut().for_each(|e| e.event = 0);
            expected_episodes.sort();
            let told = format!("seed {seed}, {options:?}");
            same(&episodes(&mut engine), &expected_episodes, &told);
            let (spans, cases) = (&history.account.spans, &history.account.episodes);
            assert_eq!(spans.isolated, expected.isolated);
            assert_eq!(spans.too_fast, expected.too_fast);
            assert_eq!(cases.unconfirmed, expected.unconfirmed);
            let metres: i64 = expected.stretches.iter().map(|s| s.to.1 - s.from.1).sum();
            assert_eq!(spans.exposure_m, metres);
            let mut count = |what, n: usize| *met.entry(what).or_default() += n as u64;
            count("isolated", spans.isolated as usize);
            count("too fast", spans.too_fast as usize);
            count("segments", spans.segments_opened as usize);
            count("engines", spans.engines_replaced as usize);
            count("unplaced", spans.replacements_without_place as usize);
            count("retired", spans.retired as usize);
            count(
                "edited",
                spans.versions.iter().map(|v| v.edited as usize).sum(),
            );
            count("orphans", spans.findings_without_case as usize);
            count("comebacks", cases.comebacks as usize);
            count("walk-ins", cases.walk_ins as usize);
            count("after the last visit", cases.after_last_visit as usize);
            let beside = cases.walk_ins + cases.after_last_visit;
            count("observed", (cases.events - beside) as usize);
            count("replaced findings", spans.findings_replaced as usize);
            count("no position", cases.without_position as usize);
            count("no odometer", cases.without_odometer as usize);
        }
    }
    // A twin that never meets the trouble proves nothing.
    assert!(met.len() == 15 && met.values().all(|n| *n >= 10), "{met:?}");
}

/// The tally of rates under test.
fn tallied(
    engine: &mut dyn Engine,
    history: &History,
    filter: &Filter,
    by: &[Dimension],
    bands: &MileageBands,
    exposure: Exposure,
) -> RateTally {
    let asked = rates::Asked {
        history,
        filter,
        dimensions: by,
        bands,
        exposure,
        families: &families(),
    };
    rates::tally(engine, asked).expect("tally")
}

/// Cells by family, site, model year and band, as the twin keys them.
/// metres, vehicles, failures in the rate, after the last visit, walk-ins.
type Cells = BTreeMap<super::twin_tally::Place, (i64, u64, u64, u64, u64)>;

fn cells(
    engine: &mut Local,
    history: &History,
    filter: &Filter,
    bands: &MileageBands,
    exposure: Exposure,
) -> Cells {
    let by = [
        Dimension::Family,
        Dimension::Site,
        Dimension::ModelYear,
        Dimension::Band,
    ];
    let tally = tallied(engine, history, filter, &by, bands, exposure);
    let text = |k: &KeyPart| match k {
        KeyPart::Text(t) => Some(t.clone()),
        _ => None,
    };
    tally
        .cells
        .iter()
        .map(|c| {
            let year = match c.key[2] {
                KeyPart::Number(n) => Some(n),
                _ => None,
            };
            let band = match c.key[3] {
                KeyPart::Band(b) => b as i64,
                _ => -1,
            };
            assert_eq!(
                c.exposure_m,
                c.sites.iter().map(|s| s.exposure_m).sum::<i64>()
            );
            assert_eq!(c.events, c.sites.iter().map(|s| s.events).sum::<u64>());
            let place = (
                text(&c.key[0]),
                text(&c.key[1]).expect("a site"),
                year,
                band,
            );
            let counts = (c.events, c.after_last_visit, c.walk_ins);
            let (events, after, walk_ins) = counts;
            (place, (c.exposure_m, c.vehicles, events, after, walk_ins))
        })
        .collect()
}

fn expected_cells(twin: &Twin, keep: &Keep, edges: &[i64]) -> Cells {
    let mut cells = Cells::new();
    for (place, (metres, vehicles)) in exposure(twin, keep, edges) {
        let cell = cells.entry(place).or_default();
        cell.0 = metres;
        cell.1 = vehicles.len() as u64;
    }
    let mut counted = BTreeSet::new();
    for e in twin.episodes.iter().filter(|e| keep.event(e)) {
        if counted.insert(e.event) {
            let place = (
                e.family.clone(),
                e.site.clone(),
                e.year,
                band_of(e.position, edges),
            );
            let cell = cells.entry(place).or_default();
            let counts = e.observed || e.seen_before && keep.to_last_sighting;
            cell.2 += u64::from(counts);
            cell.3 += u64::from(e.seen_before && !counts);
            cell.4 += u64::from(!e.seen_before);
        }
    }
    cells
}

#[test]
fn rates_are_the_twins() {
    let bands = MileageBands::default_for(UnitSystem::Metric);
    let one_band = MileageBands::parse("0", DistanceUnit::Kilometre).expect("a band");
    for seed in 20..22 {
        let records = fleet(seed, 160);
        let (mut engine, history, _folder) = open(&records, &HistoryOptions::default());
        let twin = twin(&records, 30, 1_600_000, 1);
        let cut_off = history.cut_off().expect("a last day").0;
        let filters = [
            (None, None, vec![], vec![]),
            (Some(19_080), Some(19_200), vec![], vec![]),
            (Some(19_080), None, vec!["Ashby".to_owned()], vec![]),
            (None, Some(19_100), vec![], vec!["alder-4".to_owned()]),
        ];
        for (from, to, sites, families) in filters {
            let exposures = [
                Exposure::Observed,
                Exposure::LastSighting,
                Exposure::Carried,
            ];
            for exposure in exposures {
                let keep = Keep {
                    families: families.clone(),
                    sites: sites.clone(),
                    from,
                    to,
                    to_last_sighting: exposure != Exposure::Observed,
                    carried_to: (exposure == Exposure::Carried).then_some(to.unwrap_or(cut_off)),
                };
                let filter = Filter {
                    families: families.clone(),
                    sites: sites.clone(),
                    from: from.map(Day),
                    to: to.map(Day),
                    ..Filter::default()
                };
                for bands in [&bands, &one_band] {
                    assert_eq!(
                        cells(&mut engine, &history, &filter, bands, exposure),
                        expected_cells(&twin, &keep, &bands.edges),
                        "seed {seed}, {keep:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn order_and_batches_make_no_difference() {
    let bands = MileageBands::default_for(UnitSystem::Us);
    let by = [
        Dimension::Family,
        Dimension::Cause,
        Dimension::Cylinder,
        Dimension::Band,
    ];
    for seed in 40..41 {
        let records = fleet(seed, 160);
        let tally = |records: &Records| {
            let (mut engine, history, _folder) = open(records, &HistoryOptions::default());
            let (filter, exposure) = (Filter::default(), Exposure::Observed);
            tallied(&mut engine, &history, &filter, &by, &bands, exposure)
        };
        let expected = tally(&records);
        assert!(expected.cells.iter().any(|c| c.events > 0));
        for shuffle in 0..2 {
            assert_eq!(tally(&shuffled(&records, shuffle)), expected, "seed {seed}");
        }
    }
}

#[test]
fn windows_that_touch_sum_to_the_whole() {
    let bands = MileageBands::default_for(UnitSystem::Metric);
    let by = [Dimension::Family, Dimension::Band];
    let records = fleet(60, 80);
    let (mut engine, history, _folder) = open(&records, &HistoryOptions::default());
    let mut tally = |from: Option<i32>, to: Option<i32>| -> BTreeMap<Vec<KeyPart>, (i64, u64)> {
        let filter = Filter {
            from: from.map(Day),
            to: to.map(Day),
            ..Filter::default()
        };
        tallied(
            &mut engine,
            &history,
            &filter,
            &by,
            &bands,
            Exposure::Observed,
        )
        .cells
        .into_iter()
        .map(|c| (c.key, (c.exposure_m, c.events)))
        .collect()
    };
    let whole = tally(None, None);
    let days = [19_050, 19_051, 19_120, 19_300];
    let mut sum: BTreeMap<Vec<KeyPart>, (i64, u64)> = BTreeMap::new();
    let mut from = None;
    for to in days.iter().map(|d| Some(*d)).chain([None]) {
        for (key, (metres, events)) in tally(from, to) {
            let cell = sum.entry(key).or_default();
            cell.0 += metres;
            cell.1 += events;
        }
        from = to.map(|d| d + 1);
    }
    // Walk-ins alone make a cell of the whole that has neither; they are in the parts too.
    assert_eq!(sum, whole);
}

#[test]
fn slices_of_vehicles_make_no_difference() {
    let records = fleet(3, 160);
    let folder = tempfile::tempdir().expect("a folder");
    let mut engine = Local::new();
    let mut register = |engine: &mut dyn Engine| records.register(engine);
    let inputs = Inputs {
        folder: folder.path(),
        fingerprint: "test",
        // Three slices of digests.
        rows: 15_000_000,
        register: &mut register,
    };
    let options = HistoryOptions::default();
    let sliced = open_sliced(inputs, &mut engine, &options, 7).expect("history");
    let (mut at_once, whole, _folder) = open(&records, &options);
    assert_eq!(sliced.account, whole.account);
    assert_eq!(stretches(&mut engine), stretches(&mut at_once));
    assert_eq!(carries(&mut engine), carries(&mut at_once));
    assert_eq!(episodes(&mut engine), episodes(&mut at_once));
    let layer = |n: &str| {
        let folders = std::fs::read_dir(folder.path()).expect("layers");
        let mut folders = folders.map(|f| f.expect("a layer").path());
        let spans = folders.find(|f| f.join("spans.parquet").exists());
        spans.expect("the layer of spans").join(n).exists()
    };
    assert!(layer("spans-22.parquet"), "160 vehicles are 23 slices of 7");
}

/// What tells failures of one vehicle apart in the order in which one of them speaks for it.
type Turn = (i32, bool, i64, i64, Option<i64>);

#[test]
fn shares_and_cylinders_are_the_twins() {
    let bands = MileageBands::default_for(UnitSystem::Metric);
    let records = fleet(70, 400);
    let (mut engine, history, _folder) = open(&records, &HistoryOptions::default());
    let twin = twin(&records, 30, 1_600_000, 1);

    let mut expected: BTreeMap<(KeyPart, String), u64> = BTreeMap::new();
    for e in twin.episodes.iter().filter(|e| e.primary) {
        let family = e.family.clone().map_or(KeyPart::Unknown, KeyPart::Text);
        *expected.entry((family, e.cause.clone())).or_default() += 1;
    }
    let by = [Dimension::Family];
    let filter = Filter::default();
    let complaint = Complaint::default();
    let tally =
        shares::tally(&mut engine, &history, &filter, &by, &bands, &complaint).expect("shares");
    let mut found = BTreeMap::new();
    let mut not_confirmed = 0;
    for group in &tally.groups {
        let mut sum = 0;
        for c in &group.causes {
            found.insert((group.key[0].clone(), c.cause.clone()), c.cases);
            assert_eq!(c.cases, c.sites.iter().map(|s| s.1).sum::<u64>());
            sum += c.cases;
        }
        assert_eq!(group.confirmed_cases, sum);
        assert_eq!(
            group.confirmed_cases,
            group.sites.iter().map(|s| s.1).sum::<u64>()
        );
        not_confirmed += group.not_confirmed.iter().map(|o| o.1).sum::<u64>();
    }
    assert_eq!(found, expected);
    assert_eq!(not_confirmed, twin.unconfirmed);

    let causes = ["ignition_coil", "spark_plug"];
    let mut events: BTreeMap<(String, usize), Turn> = BTreeMap::new();
    let wanted =
        |e: &&Episode| e.family.as_deref() == Some("alder-4") && causes.contains(&e.cause.as_str());
    for e in twin.episodes.iter().filter(wanted) {
        let event = events.entry((e.vehicle.clone(), e.event)).or_insert((
            e.opened,
            e.cylinder.is_none(),
            -e.confirmation,
            e.place,
            e.cylinder,
        ));
        event.2 = event.2.min(-e.confirmation);
        event.3 = event.3.min(e.place);
    }
    let mut first: BTreeMap<String, Turn> = BTreeMap::new();
    let all = events.len();
    for ((vehicle, _), turn) in events {
        let place = first.entry(vehicle).or_insert(turn);
        *place = (*place).min(turn);
    }
    let mut counts = vec![0; 4];
    let mut unknown = 0;
    for turn in first.values() {
        match turn.4 {
            Some(c) => counts[c as usize - 1] += 1,
            None => unknown += 1,
        }
    }
    let filter = Filter {
        families: vec!["alder-4".into()],
        causes: causes.iter().map(|c| (*c).to_owned()).collect(),
        ..Filter::default()
    };
    let tally = cylinders::tally(&mut engine, &history, &filter, &families()).expect("cylinders");
    assert_eq!((tally.counts, tally.unknown), (counts, unknown));
    assert_eq!(tally.vehicles, first.len() as u64);
    assert_eq!(tally.repeat_cases_left_out, (all - first.len()) as u64);
    // The troubles are there at all.
    assert!(tally.repeat_cases_left_out > 0 && unknown > 0);
}
