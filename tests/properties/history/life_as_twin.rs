//! Lives tallied by the statements are those of a twin that goes through the history engine by engine and stretch by stretch.
//!
//! History itself has a twin of its own; here its tables are the input. Compared are the risk set at every distance, the
//! failures by cause, and what is counted apart.

use std::collections::{BTreeMap, BTreeSet};

use boretally::domain::day::Day;
use boretally::domain::family::Families;
use boretally::domain::table::Table::Quarantine;
use boretally::history::rows::Table;
use boretally::history::{History, HistoryOptions, Inputs, open_over};
use boretally::query::engine::{Engine, Rows};
use boretally::query::local::Local;
use boretally::store::arrow_schema;
use boretally::tally::life::{Clock, FirstFailures, LifeAsk, LifeGroup, for_each};
use boretally::tally::{Dimension, Exposure, Filter, KeyPart};

use super::fleet::fleet;
use super::rows::Records;

fn open(records: &Records) -> (Local, History, tempfile::TempDir) {
    let folder = tempfile::tempdir().expect("a folder");
    let mut engine = Local::new();
    let mut register = |engine: &mut dyn Engine| {
        records.register(engine)?;
        let nothing = Rows::Parquet {
            files: Vec::new(),
            schema: arrow_schema(Quarantine),
        };
        engine.register("quarantine", nothing)
    };
    let inputs = Inputs {
        folder: folder.path(),
        fingerprint: "test",
        // Three slices of digests.
        rows: 10_000_000,
        register: &mut register,
    };
    let history = open_over(inputs, &mut engine, &HistoryOptions::default()).expect("history");
    (engine, history, folder)
}

/// A stretch (or span) under observation.
#[derive(Debug, Clone)]
struct Piece {
    engine: (String, i64),
    segment: i64,
    site: Option<String>,
    family: Option<String>,
    entry_m: Option<i64>,
    odometer: i64,
    metres: i64,
    days: (i32, i32),
}

fn pieces(engine: &mut Local, table: &str, exposure: Exposure) -> Vec<Piece> {
    let batch = engine
        .query(&format!("SELECT * FROM {table}"))
        .expect(table);
    let t = Table::new(&batch);
    let text = |n| t.text(n).expect(n);
    let whole = |n| t.whole(n).expect(n);
    let day = |n| t.day(n).expect(n);
    let (metres, end) = match exposure {
        Exposure::Observed => ("distance_m", "exit_date"),
        _ => ("to_sighting_m", "sighting_date"),
    };
    let vehicle = t.names("vehicle").expect("vehicle");
    let family = text("engine_family");
    let site = text(if table == "spans" {
        "main_site"
    } else {
        "site"
    });
    let (number, segment, entry) = (whole("engine_no"), whole("segment"), whole("entry_m"));
    let (odometer, metres) = (whole("entry_odometer_m"), whole(metres));
    let (from, to) = (day("entry_date"), day(end));
    (0..t.len())
        .map(|i| Piece {
            engine: (vehicle[i].clone().unwrap(), number[i].unwrap()),
            segment: segment[i].unwrap(),
            site: site[i].clone(),
            family: family[i].clone(),
            entry_m: entry[i],
            odometer: odometer[i].unwrap(),
            metres: metres[i].unwrap(),
            days: (from[i].unwrap().0, to[i].unwrap().0),
        })
        .collect()
}

#[derive(Debug, Clone)]
struct Failure {
    engine: (String, Option<i64>),
    cause: String,
    site: String,
    family: Option<String>,
    day: i32,
    position: Option<i64>,
    odometer: Option<i64>,
    counted: bool,
    seen_before: bool,
    rank: (i64, i64),
}

fn failures(engine: &mut Local, exposure: Exposure) -> Vec<Failure> {
    let batch = engine.query("SELECT * FROM episodes").expect("episodes");
    let t = Table::new(&batch);
    let text = |n| t.text(n).expect(n);
    let whole = |n| t.whole(n).expect(n);
    let flag = |n| t.flag(n).expect(n);
    let vehicle = t.names("vehicle").expect("vehicle");
    let number = whole("engine_no");
    let (cause, site, family) = (text("cause"), text("site"), text("engine_family"));
    let (position, odometer) = (whole("position_m"), whole("odometer_m"));
    let (level, place) = (whole("confirmation"), whole("place"));
    let (observed, later) = (flag("under_observation"), flag("after_last_visit"));
    let opened = t.day("opened").expect("opened");
    (0..t.len())
        .map(|i| {
            let (observed, later) = (observed[i].unwrap(), later[i].unwrap());
            Failure {
                engine: (vehicle[i].clone().unwrap(), number[i]),
                cause: cause[i].clone().unwrap(),
                site: site[i].clone().unwrap(),
                family: family[i].clone(),
                day: opened[i].unwrap().0,
                position: position[i],
                odometer: odometer[i],
                counted: observed || (exposure != Exposure::Observed && later),
                seen_before: observed || later,
                rank: (-level[i].unwrap(), place[i].unwrap()),
            }
        })
        .collect()
}

/// A life: from, to, and the cause of the failure that ends it.
type Life = (i64, i64, Option<String>);

/// The lives of one group, and the failures by what they are.
#[derive(Debug, Default)]
struct Group {
    lives: Vec<Life>,
    walk_ins: u64,
    later: u64,
    unplaced: u64,
    placed: u64,
}

/// Key of a group: family, site where asked for, cause where asked for.
type Key = (Option<String>, Option<String>, Option<String>);

/// Metres driven by the end of a day.
fn driven(piece: &Piece, day: i64) -> i64 {
    let (from, to) = (i64::from(piece.days.0), i64::from(piece.days.1));
    if day >= to {
        piece.metres
    } else if day <= from {
        0
    } else {
        piece.metres * (day - from) / (to - from)
    }
}

struct Asked {
    clock: Clock,
    by_site: bool,
    by_cause: bool,
    window: Option<(i32, i32)>,
}

fn first_of(failures: &[Failure], clock: Clock) -> Option<&Failure> {
    let place = |f: &Failure| {
        if clock == Clock::Odometer {
            f.odometer
        } else {
            f.position
        }
    };
    failures
        .iter()
        .min_by_key(|f| (f.day, place(f).unwrap_or(i64::MAX), f.rank, f.cause.clone()))
}

fn twin(pieces: &[Piece], failures: &[Failure], asked: &Asked) -> BTreeMap<Key, Group> {
    let mut groups: BTreeMap<Key, Group> = BTreeMap::new();
    let causes: BTreeSet<String> = failures.iter().map(|f| f.cause.clone()).collect();
    let kinds: Vec<Option<&String>> = match asked.by_cause {
        true => causes.iter().map(Some).collect(),
        false => vec![None],
    };
    let place = |f: &Failure| {
        if asked.clock == Clock::Odometer {
            f.odometer
        } else {
            f.position
        }
    };
    for kind in kinds {
        let wanted = |f: &&Failure| kind.is_none_or(|k| f.cause == *k);
        let key = |family: &Option<String>, site: &Option<String>| {
            let site = asked.by_site.then(|| site.clone()).flatten();
            (family.clone(), site, kind.cloned())
        };
        let mut of_engine: BTreeMap<(String, Option<i64>), Vec<Failure>> = BTreeMap::new();
        for f in failures.iter().filter(wanted) {
            of_engine
                .entry(f.engine.clone())
                .or_default()
                .push(f.clone());
        }
        let firsts: BTreeMap<_, Failure> = of_engine
            .into_iter()
            .filter_map(|(engine, list)| Some((engine, first_of(&list, asked.clock)?.clone())))
            .collect();
        for f in firsts.values() {
            if asked
                .window
                .is_some_and(|(from, to)| f.day < from || f.day > to)
            {
                continue;
            }
            let group = groups
                .entry(key(&f.family, &Some(f.site.clone())))
                .or_default();
            match (f.counted, f.seen_before, place(f)) {
                (true, _, Some(_)) => group.placed += 1,
                (true, _, None) => group.unplaced += 1,
                (false, true, _) => group.later += 1,
                (false, false, _) => group.walk_ins += 1,
            }
        }
        for piece in pieces {
            let start = match asked.clock {
                Clock::Odometer => (piece.segment == 1).then_some(piece.odometer),
                _ => piece.entry_m,
            };
            let (left, right) = match asked.window {
                None => (0, piece.metres),
                Some((from, to)) => (
                    driven(piece, i64::from(from) - 1),
                    driven(piece, i64::from(to)),
                ),
            };
            let Some(start) = start.filter(|_| right > left) else {
                continue;
            };
            let (from, to) = (start + left, start + right);
            let group = groups.entry(key(&piece.family, &piece.site)).or_default();
            let engine = (piece.engine.0.clone(), Some(piece.engine.1));
            let first = firsts.get(&engine).filter(|f| f.day <= piece.days.1);
            let Some(f) = first else {
                group.lives.push((from, to, None));
                continue;
            };
            if f.day < piece.days.0 {
                continue;
            }
            let at = place(f).unwrap_or_else(|| {
                let through = piece.days.0 == piece.days.1;
                start
                    + if through {
                        0
                    } else {
                        driven(piece, i64::from(f.day))
                    }
            });
            // On its last day an unplaced failure lies at the end of the piece, as `driven` has it.
            if at > to {
                group.lives.push((from, to, None));
            } else if at > from {
                let fails = f.counted && place(f).is_some();
                group.lives.push((from, at, fails.then(|| f.cause.clone())));
            }
        }
    }
    groups
}

/// Engines at risk at a distance.
fn at_risk(group: &LifeGroup, at: i64) -> i64 {
    let signed = |n: u64| n as i64;
    let before = group.rows.iter().take_while(|r| r.distance_m < at);
    before
        .map(|r| signed(r.entered) - signed(r.left) - signed(r.failed))
        .sum()
}

fn same(group: &LifeGroup, twin: &Group, what: &str) {
    let mut failed: BTreeMap<(i64, &str), u64> = BTreeMap::new();
    for (_, to, cause) in &twin.lives {
        if let Some(cause) = cause {
            *failed.entry((*to, cause)).or_default() += 1;
        }
    }
    let found: BTreeMap<(i64, &str), u64> = group
        .failures
        .iter()
        .map(|f| ((f.distance_m, group.causes[f.cause].as_str()), f.failed))
        .collect();
    assert_eq!(found, failed, "{what}");
    let corners: BTreeSet<i64> = twin
        .lives
        .iter()
        .flat_map(|l| [l.0, l.1, l.1 + 1])
        .collect();
    for at in corners {
        let expected = twin.lives.iter().filter(|l| l.0 < at && at <= l.1).count();
        assert_eq!(at_risk(group, at), expected as i64, "{what} at {at}");
    }
    let metres: i64 = twin.lives.iter().map(|l| l.1 - l.0).sum();
    assert_eq!(group.exposure_m(), metres, "{what}");
    let count: u64 = failed.values().sum();
    let firsts = FirstFailures {
        failed: count,
        walk_ins: twin.walk_ins,
        after_last_visit: twin.later,
        unplaced: twin.unplaced,
        without_distance: twin.placed.saturating_sub(count),
    };
    assert_eq!(group.firsts, firsts, "{what}");
}

fn families() -> Families {
    let text = "[[family]]\nid = \"alder-4\"\ncylinders = 4\nlayout = \"inline\"\n\
                [[family]]\nid = \"rowan-3\"\ncylinders = 3\nlayout = \"inline\"\n";
    Families::from_toml(text, "families.toml").expect("families")
}

fn tally(
    engine: &mut Local,
    history: &History,
    ask: &LifeAsk,
) -> BTreeMap<Vec<KeyPart>, LifeGroup> {
    let mut groups = BTreeMap::new();
    for_each(engine, history, ask, &families(), &mut |group| {
        let known = groups.insert(group.key.clone(), group);
        assert!(known.is_none(), "a group came twice");
        Ok(())
    })
    .expect("lives");
    groups
}

#[test]
fn lives_are_the_twins() {
    let text = |t: Option<String>| t.map_or(KeyPart::Unknown, KeyPart::Text);
    let (mut failed, mut walk_ins, mut later, mut unplaced, mut without, mut partial) =
        (0, 0, 0, 0, 0, 0);
    for seed in 100..103 {
        let records = fleet(seed, 200);
        let (mut engine, history, _folder) = open(&records);
        for (clock, by_site, by_cause, window, exposure) in [
            (Clock::Engine, false, false, None, Exposure::Observed),
            (Clock::Engine, false, true, None, Exposure::Observed),
            (Clock::Odometer, false, true, None, Exposure::Observed),
            (Clock::Engine, true, true, None, Exposure::LastSighting),
            (
                Clock::Engine,
                true,
                false,
                Some((19_080, 19_200)),
                Exposure::Observed,
            ),
            (
                Clock::Odometer,
                false,
                false,
                Some((19_100, 19_400)),
                Exposure::LastSighting,
            ),
        ] {
            let mut dimensions = vec![Dimension::Family];
            dimensions.extend(by_site.then_some(Dimension::Site));
            dimensions.extend(by_cause.then_some(Dimension::Cause));
            let ask = LifeAsk {
                filter: Filter {
                    from: window.map(|w| Day(w.0)),
                    to: window.map(|w| Day(w.1)),
                    ..Filter::default()
                },
                dimensions,
                clock,
                exposure,
            };
            let groups = tally(&mut engine, &history, &ask);
            let table = if by_site || window.is_some() {
                "stretches"
            } else {
                "spans"
            };
            let pieces = pieces(&mut engine, table, exposure);
            let failures = failures(&mut engine, exposure);
            let asked = Asked {
                clock,
                by_site,
                by_cause,
                window,
            };
            let mut expected: BTreeMap<Vec<KeyPart>, Group> = BTreeMap::new();
            for ((family, site, cause), group) in twin(&pieces, &failures, &asked) {
                let mut key = vec![text(family)];
                key.extend(by_site.then(|| text(site)));
                key.extend(by_cause.then(|| text(cause)));
                expected.insert(key, group);
            }
            for (key, group) in &groups {
                let what = format!("seed {seed}, {clock:?}, {window:?}, {key:?}");
                let empty = Group::default();
                same(group, expected.get(key).unwrap_or(&empty), &what);
                failed += group.firsts.failed;
                walk_ins += group.firsts.walk_ins;
                later += group.firsts.after_last_visit;
                unplaced += group.firsts.unplaced;
                without += group.firsts.without_distance;
            }
            // A cause that never failed in a family has no group of its own; its lives are those of any other cause there.
            for (key, group) in expected
                .iter()
                .filter(|(key, _)| !groups.contains_key(*key))
            {
                assert!(by_cause, "{key:?}");
                assert!(group.lives.iter().all(|l| l.2.is_none()), "{key:?}");
                partial += 1;
            }
        }
    }
    let met = [failed, walk_ins, later, unplaced, without];
    assert!(met.iter().all(|n| *n >= 10), "{met:?} {partial}");
}

#[test]
fn lives_since_a_repair_are_the_twins() {
    let (mut failed, mut lives, mut at_once) = (0, 0, 0);
    for seed in 110..113 {
        let records = fleet(seed, 900);
        let (mut engine, history, _folder) = open(&records);
        let spans = pieces(&mut engine, "spans", Exposure::Observed);
        let all = failures(&mut engine, Exposure::Observed);
        let ask = LifeAsk {
            dimensions: vec![Dimension::Cause],
            clock: Clock::Repair,
            ..LifeAsk::default()
        };
        for (key, group) in tally(&mut engine, &history, &ask) {
            let [KeyPart::Text(cause)] = key.as_slice() else {
                panic!("{key:?}");
            };
            // Repairs by engine and odometer segment: those made while the vehicle was watched.
            let mut repairs: BTreeMap<(String, i64, i64), BTreeSet<(i32, i64)>> = BTreeMap::new();
            for f in all.iter().filter(|f| f.cause == *cause) {
                let (Some(number), Some(odometer)) = (f.engine.1, f.odometer) else {
                    continue;
                };
                for s in &spans {
                    let here = s.engine == (f.engine.0.clone(), number)
                        && s.days.0 <= f.day
                        && f.day <= s.days.1
                        && s.odometer <= odometer
                        && odometer <= s.odometer + s.metres;
                    if here {
                        let place = (f.engine.0.clone(), number, s.segment);
                        repairs.entry(place).or_default().insert((f.day, odometer));
                    }
                }
            }
            let mut twin = Group::default();
            let mut repeated = 0;
            for ((vehicle, number, segment), list) in repairs {
                let list: Vec<(i32, i64)> = list.into_iter().collect();
                for (i, (_, odometer)) in list.iter().enumerate() {
                    let next = list.get(i + 1).map(|n| n.1);
                    repeated += u64::from(next == Some(*odometer));
                    for s in spans.iter().filter(|s| s.metres > 0) {
                        if s.engine != (vehicle.clone(), number) || s.segment != segment {
                            continue;
                        }
                        let end = s.odometer + s.metres;
                        let from = s.odometer.max(*odometer);
                        let to = next.map_or(end, |n| n.min(end));
                        if to > from {
                            let fails = next.is_some_and(|n| n <= end);
                            let cause = fails.then(|| cause.clone());
                            twin.lives.push((from - odometer, to - odometer, cause));
                        }
                    }
                }
            }
            failed += twin.lives.iter().filter(|l| l.2.is_some()).count();
            lives += twin.lives.len();
            at_once += repeated;
            let count = twin.lives.iter().filter(|l| l.2.is_some()).count() as u64;
            twin.placed = count + repeated;
            same(&group, &twin, &format!("seed {seed}, {cause}"));
        }
    }
    assert!(failed >= 20 && lives >= 100, "{failed} {lives} {at_once}");
}
