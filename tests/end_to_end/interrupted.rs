//! An ingest that is killed, run twice at once, or repeated: the store is sound, and the answers are those of a run in peace.

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value as Json;

use boretally::domain::problem::Result;
use boretally::ingest::account::FileAccount;
use boretally::ingest::mapping::Mapping;
use boretally::ingest::read::Progress;
use boretally::ingest::run::Watch;

use super::ingest_shop::{Shop, VIN_A, VIN_B, visits};
use super::shop::{FAMILIES, Ran, VISITS_MAPPING, run, write_exports};

const FILES: usize = 6;

/// The shop's visits in several files, so that there is something to interrupt.
fn exports(folder: &Path) {
    let exports = write_exports(folder);
    std::fs::remove_file(exports.join("visits.csv")).unwrap();
    for month in 1..=FILES {
        let mut text = "Order,Unit,Site,Date,Km,Engine,MY\n".to_owned();
        for unit in 0..400 {
            let engine = if unit % 3 == 0 {
                "BIRCH V6"
            } else {
                "ALDER 1.6"
            };
            // A1 and A2 are seen every two months, before their failures and long after, so that these are under observation.
            let name = if unit < 3 {
                format!("A{unit}")
            } else {
                format!("U{unit}")
            };
            let km = 30_000 + 11 * unit + 15_000 * month;
            let order = 1000 * month + unit;
            text += &format!(
                "{order},{name},Larkmouth,2022-{:02}-03,{km},{engine},2015\n",
                2 * month
            );
        }
        std::fs::write(exports.join(format!("visits-{month}.csv")), text).unwrap();
    }
    assert!(FAMILIES.contains("ALDER 1.6") && VISITS_MAPPING.contains("visits*.csv"));
}

const INGEST: [&str; 6] = [
    "ingest", "exports", "--store", "records", "--format", "json",
];

fn begin(folder: &Path) -> Child {
    Command::new(env!("CARGO_BIN_EXE_boretally"))
        .current_dir(folder)
        .args(INGEST)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Names in a folder of the store; none when it is not there.
fn names(folder: &Path, inside: &str) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder.join("records").join(inside)) else {
        return Vec::new();
    };
    let mut names: Vec<String> = entries
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

fn committed(folder: &Path) -> usize {
    let batches = folder.join("records/batches");
    let of = |name: &String| batches.join(name).join("batch.json").is_file();
    names(folder, "batches").iter().filter(|n| of(n)).count()
}

/// What lies in the store and does not count, as seen on the disk.
fn scrap_on_disk(folder: &Path) -> Vec<String> {
    let batches = folder.join("records/batches");
    let mut scrap: Vec<String> = names(folder, "staging")
        .iter()
        .map(|n| format!("staging/{n}"))
        .collect();
    for name in names(folder, "batches") {
        if !batches.join(&name).join("batch.json").is_file() {
            scrap.push(format!("batches/{name}"));
        }
    }
    let unfinished = names(folder, "");
    scrap.extend(
        unfinished
            .into_iter()
            .filter(|n| n.ends_with(".unfinished")),
    );
    scrap.sort();
    scrap
}

/// Kills an ingest as soon as that many batches count and the next one is being written.
fn killed_after(folder: &Path, batches: usize) {
    let mut child = begin(folder);
    let since = Instant::now();
    while committed(folder) < batches || names(folder, "staging").is_empty() {
        assert!(since.elapsed() < Duration::from_secs(300), "no batch came");
        assert!(child.try_wait().unwrap().is_none(), "it was done too early");
        std::thread::sleep(Duration::from_millis(1));
    }
    child.kill().unwrap();
    let status = child.wait().unwrap();
    assert_eq!(status.code(), None, "it ended by itself");
}

fn verify(folder: &Path, more: &[&str]) -> Json {
    let arguments = [&["store", "verify", "records", "--format", "json"], more].concat();
    run(folder, &arguments).json()
}

fn scrap_named(found: &Json, field: &str) -> Vec<String> {
    let list = found[field].as_array().unwrap();
    let mut paths: Vec<String> = list
        .iter()
        .map(|s| s["path"].as_str().unwrap().to_owned())
        .collect();
    paths.sort();
    paths
}

fn rates(folder: &Path) -> String {
    let asked = ["rates", "--store", "records", "--format", "json"];
    run(folder, &asked).done().to_owned()
}

fn list(folder: &Path) -> Json {
    run(folder, &["store", "list", "records", "--format", "json"]).json()
}

/// The batches without their sequence numbers: a batch that was killed has used one up.
fn without_numbers(folder: &Path) -> Vec<Json> {
    let mut batches = list(folder)["batches"].as_array().unwrap().clone();
    for batch in &mut batches {
        batch.as_object_mut().unwrap().remove("seq").unwrap();
    }
    batches
}

/// The batches' ids, sorted.
fn ids(folder: &Path) -> Vec<String> {
    let mut ids: Vec<String> = without_numbers(folder)
        .iter()
        .map(|b| b["id"].as_str().unwrap().to_owned())
        .collect();
    ids.sort();
    ids
}

fn in_peace() -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().unwrap();
    exports(folder.path());
    let account = run(folder.path(), &INGEST).json();
    assert_eq!(account["totals"]["files"], FILES + 1);
    let rates = rates(folder.path());
    (folder, rates)
}

#[test]
fn a_killed_ingest_harms_nothing_and_the_next_one_completes_it() {
    let (peace, expected) = in_peace();
    let all = serde_json::from_str::<Json>(&expected).unwrap();
    assert!(
        all["total"]["evidence"]["events"].as_u64() > Some(0),
        "{expected}"
    );
    for (batches, clean_up) in [(0, false), (2, true), (5, false)] {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        exports(folder);
        killed_after(folder, batches);
        let there = committed(folder);
        assert!((batches..=FILES).contains(&there), "{there}");

        let found = verify(folder, &[]);
        assert_eq!(found["sound"], true, "{found}");
        assert_eq!(found["batches"], there);
        assert_eq!(scrap_named(&found, "scrap"), scrap_on_disk(folder));
        if clean_up {
            let scrap = scrap_on_disk(folder);
            assert_eq!(
                scrap_named(&verify(folder, &["--remove-scrap"]), "removed"),
                scrap
            );
            assert_eq!(scrap_on_disk(folder), [""; 0]);
            // Asked half-way, it answers from what counts; the full answer must not come from that.
            assert_ne!(rates(folder), expected);
        }

        let account = run(folder, &INGEST).json();
        assert_eq!(account["totals"]["already_there"], there);
        assert_eq!(account["totals"]["failed"], 0);
        assert_eq!(rates(folder), expected);
        assert_eq!(without_numbers(folder), without_numbers(peace.path()));
        let found = verify(folder, &[]);
        assert_eq!(
            (&found["sound"], &found["batches"]),
            (&true.into(), &(FILES + 1).into())
        );
        assert_eq!(scrap_named(&found, "scrap"), [""; 0]);
    }
}

#[test]
fn two_ingests_at_once_give_the_answers_of_one() {
    let (peace, expected) = in_peace();
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    exports(folder);
    // The store is not there yet: they also race for making it.
    let ended: Vec<Ran> = [begin(folder), begin(folder)]
        .into_iter()
        .map(|child| {
            let output = child.wait_with_output().unwrap();
            Ran {
                code: output.status.code(),
                out: String::from_utf8(output.stdout).unwrap(),
                err: String::from_utf8(output.stderr).unwrap(),
            }
        })
        .collect();
    assert!(
        ended.iter().any(|e| e.code == Some(0)),
        "{}{}",
        ended[0].err,
        ended[1].err
    );
    for one in &ended {
        assert!(!one.err.contains("panicked"), "{}", one.err);
        assert!(
            one.code == Some(0) || (one.code == Some(1) && one.err.contains("way out")),
            "{:?} {}{}",
            one.code,
            one.out,
            one.err
        );
    }
    let found = verify(folder, &[]);
    assert_eq!(
        (&found["sound"], &found["batches"]),
        (&true.into(), &(FILES + 1).into())
    );
    assert_eq!(scrap_named(&found, "scrap"), [""; 0]);
    assert_eq!(rates(folder), expected);

    // The same exports once more change nothing.
    let before = list(folder);
    let account = run(folder, &INGEST).json();
    assert_eq!(account["totals"]["already_there"], FILES + 1);
    assert_eq!(account["totals"]["read"], 0);
    assert_eq!(list(folder), before);
    assert_eq!(ids(folder), ids(peace.path()));
}

/// Stops inside while the first file is read.
struct Stopping;

impl Watch for Stopping {
    fn begun(&self, _: usize) {}

    fn read(&self, file: usize, _: Progress) {
        assert!(file != 0, "no such cylinder");
    }

    fn done(&self, _: usize, _: &Result<FileAccount>) {}
}

#[test]
fn a_file_that_stops_the_program_inside_is_told_of_and_the_others_are_taken_in() {
    let shop = Shop::new();
    let file = |name: &str, vin: &str| {
        let text = format!("Order;VIN;In;Km;Engine;MY\n1;{vin};2024-05-01;1000;;\n");
        shop.write(name, text)
    };
    let files = [file("a.csv", VIN_A), file("b.csv", VIN_B)];
    let mapping = shop.mapping(&visits("")).expect("a mapping");
    let jobs: Vec<(&Path, &Mapping)> = files.iter().map(|f| (f.as_path(), &mapping)).collect();
    let results = shop.with_run(|run| run.files(&jobs, &Stopping));
    let problem = results[0].as_ref().unwrap_err().to_string();
    assert!(problem.contains("no such cylinder"), "{problem}");
    assert!(problem.contains("report it"), "{problem}");
    assert_eq!(results[1].as_ref().unwrap().kept, 1);
    assert_eq!(shop.store().batches().unwrap().len(), 1);
    // What is left of the first is taken in afterwards as if nothing had been.
    let again = shop.with_run(|run| run.file(&files[0], &mapping));
    assert_eq!(again.unwrap().kept, 1);
}
