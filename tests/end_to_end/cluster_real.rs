//! The sample's answers on a real cluster, and what happens when parts of it go away.
//!
//! Left out of a plain `cargo test`, since the cluster's programs take longer to build than everything else: `tests/cluster/run`
//! builds them, runs these tests and prints what it measured.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use boretally::query::cluster::{Address, Cluster, Credentials};
use boretally::query::engine::{Engine, Rows};

use crate::cluster_servers::Servers;
use crate::shop::{Ran, run, run_with};

/// `anna:secret` in base 64.
const BASIC: &str = "Basic YW5uYTpzZWNyZXQ=";

/// A question for each kind of tally; `records` is the store, `roster` the sample's fleet.
const QUESTIONS: &[&str] = &[
    "rates --by family,cause",
    "rates --by band,model-year --units us",
    "rates --family alder-4 --exposure carried --confirmation 2 --from 2022-01-01 --to 2023-12-31",
    "shares",
    "shares --complaint P0301 --by site",
    "cylinders --family alder-4 --cause exhaust_valve_leak",
    "life --by family --head-off",
    "life --family alder-4 --cause ignition_coil --clock repair",
    "repeats --by family",
    "readings --family alder-4 --test cranking_compression",
    "test-order --family alder-4 --complaint P0301 --odometer 182000km --quick",
    "test-order --check 2022-12-31 --quick",
    "budget --roster roster --months 12",
    "budget --check 2023-06-30",
];

/// The sample in a store, made once; history is taken away by each test that needs it fresh.
fn sample() -> &'static Path {
    static SAMPLE: OnceLock<PathBuf> = OnceLock::new();
    SAMPLE.get_or_init(|| {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("cluster-sample");
        if folder.exists() {
            std::fs::remove_dir_all(&folder).unwrap();
        }
        std::fs::create_dir_all(&folder).unwrap();
        let exports = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-data");
        let ran = run(
            &folder,
            &[
                "ingest",
                exports,
                "--store",
                "records",
                "--as-of",
                "2025-01-01",
            ],
        );
        // Some records of the sample are wrong on purpose; it says so with 1.
        assert!(matches!(ran.code, Some(0 | 1)), "{}", ran.err);
        folder
    })
}

/// A store of the same records that no other test touches.
pub fn store(name: &str) -> PathBuf {
    let place = sample().join(name);
    let _ = std::fs::remove_dir_all(&place);
    copy(&sample().join("records"), &place);
    // The roster's vehicles are found by the key that lies beside a store.
    let key = |store: &Path| store.with_added_extension("key");
    std::fs::copy(key(&sample().join("records")), key(&place)).unwrap();
    place
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap();
        if path.is_dir() && name != "history" {
            copy(&path, &to.join(name));
        } else if path.is_file() {
            std::fs::copy(&path, to.join(name)).unwrap();
        }
    }
}

pub fn ask(question: &str, store: &Path, environment: &[(&str, &str)]) -> Ran {
    let roster = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-data/fleet/roster.csv");
    let mut words: Vec<&str> = question
        .split(' ')
        .map(|w| if w == "roster" { roster } else { w })
        .collect();
    words.extend(["--store", store.to_str().unwrap(), "--format", "json"]);
    run_with(sample(), environment, &words)
}

fn on(address: &str) -> [(&'static str, String); 1] {
    [("BORETALLY_ENGINE", address.to_owned())]
}

fn ask_on(question: &str, store: &Path, address: &str) -> Ran {
    let environment = on(address);
    let environment: Vec<(&str, &str)> =
        environment.iter().map(|(n, v)| (*n, v.as_str())).collect();
    ask(question, store, &environment)
}

/// What is left half done in a store's history.
pub fn half_done(store: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(store.join("history")) else {
        return Vec::new();
    };
    let names = entries.map(|e| e.unwrap().file_name().into_string().unwrap());
    names.filter(|n| n.starts_with('.')).collect()
}

#[test]
#[ignore = "needs a cluster: tests/cluster/run"]
fn every_question_is_answered_as_by_the_embedded_engine() {
    let embedded: Vec<_> = {
        let store = store("embedded");
        QUESTIONS
            .iter()
            .map(|q| timed(|| ask(q, &store, &[]).json()))
            .collect()
    };
    for executors in [1, 2] {
        let servers = Servers::start(executors, None, &[]);
        let store = store(&format!("cluster-{executors}"));
        println!(
            "{executors} executor(s): seconds embedded, seconds cluster, question; the first of each makes history"
        );
        for (question, (expected, alone)) in QUESTIONS.iter().zip(&embedded) {
            let (answer, time) = timed(|| ask_on(question, &store, &servers.address()).json());
            println!(
                "{:8.2} {:8.2}  {question}",
                alone.as_secs_f64(),
                time.as_secs_f64()
            );
            assert_eq!(answer, *expected, "{question}");
        }
        assert_eq!(half_done(&store), [] as [String; 0]);
    }
}

pub fn timed<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let begun = Instant::now();
    let done = work();
    (done, begun.elapsed())
}

#[test]
#[ignore = "needs a cluster: tests/cluster/run"]
fn a_scheduler_that_goes_in_mid_query_is_told_of_and_leaves_nothing() {
    let mut servers = Servers::start(2, None, &[]);
    let store = store("scheduler-gone");
    let address = servers.address();
    let asking = std::thread::spawn({
        let store = store.clone();
        let address = address.clone();
        move || ask_on("rates", &store, &address)
    });
    wait_for_history(&store, 3);
    servers.kill_scheduler();
    let ran = asking.join().unwrap();
    failed(&ran, &address, "lost the connection");
    assert_eq!(half_done(&store), [] as [String; 0]);

    // And one that is not there from the beginning.
    let ran = ask_on("rates", &store, &address);
    failed(&ran, &address, "no Flight SQL server answers");
}

#[test]
#[ignore = "needs a cluster: tests/cluster/run"]
fn an_executor_killed_in_mid_query_costs_an_error_or_nothing() {
    let expected = ask(
        "rates --by family,cause",
        &store("executor-gone-embedded"),
        &[],
    )
    .json();
    let mut servers = Servers::start(2, None, &[]);
    let store = store("executor-gone");
    let address = servers.address();
    let asking = std::thread::spawn({
        let store = store.clone();
        let address = address.clone();
        move || ask_on("rates --by family,cause", &store, &address)
    });
    wait_for_history(&store, 3);
    servers.kill_executor();
    let ran = asking.join().unwrap();
    println!(
        "killed one of two executors in mid-query: code {:?} {}",
        ran.code,
        ran.err.trim()
    );
    match ran.code {
        Some(0) => assert_eq!(ran.json(), expected),
        _ => failed(&ran, &address, "the cluster could not"),
    }
    assert_eq!(half_done(&store), [] as [String; 0]);
    // The one that is left answers once the scheduler has noticed.
    std::thread::sleep(Duration::from_secs(15));
    assert_eq!(
        ask_on("rates --by family,cause", &store, &address).json(),
        expected
    );

    // With none left it says so instead of waiting for ever.
    servers.kill_executor();
    let ran = ask_on("shares", &store, &address);
    println!("killed the last executor: {}", ran.err.trim());
    failed(&ran, &address, "the cluster could not");
    assert_eq!(half_done(&store), [] as [String; 0]);
}

#[test]
#[ignore = "needs a cluster: tests/cluster/run"]
fn only_who_is_known_gets_in() {
    let servers = Servers::start(1, Some(BASIC), &[]);
    let store = store("locked");
    let engine = ("BORETALLY_ENGINE", servers.address());
    let refused: &[&[(&str, &str)]] = &[
        &[],
        &[("BORETALLY_ENGINE_TOKEN", "guess")],
        &[
            ("BORETALLY_ENGINE_USER", "anna"),
            ("BORETALLY_ENGINE_PASSWORD", "guess"),
        ],
    ];
    for credentials in refused {
        let environment = [&[(engine.0, engine.1.as_str())], *credentials].concat();
        let ran = ask("rates", &store, &environment);
        failed(&ran, &engine.1, "refused the credentials");
    }
    let anna = [
        (engine.0, engine.1.as_str()),
        ("BORETALLY_ENGINE_USER", "anna"),
        ("BORETALLY_ENGINE_PASSWORD", "secret"),
    ];
    let expected = ask("shares", &store, &[]).json();
    assert_eq!(ask("shares", &store, &anna).json(), expected);
}

#[test]
#[ignore = "needs a cluster: tests/cluster/run"]
fn a_file_the_cluster_cannot_see_is_named() {
    let servers = Servers::start(0, None, &[]);
    let folder = tempfile::tempdir().unwrap();
    let address = Address::parse(&servers.address()).unwrap();
    let mut cluster = Cluster::connect(&address, &Credentials::default(), folder.path()).unwrap();
    let file = folder.path().join("elsewhere.parquet");
    let schema = boretally::store::arrow_schema(boretally::domain::table::Table::Visits);
    let files = vec![file.clone()];
    cluster
        .register("visits", Rows::Parquet { files, schema })
        .unwrap();
    let text = cluster
        .query("SELECT COUNT(*) AS n FROM visits")
        .unwrap_err()
        .to_string();
    println!("{text}");
    assert!(text.contains(&file.display().to_string()), "{text}");
    assert!(text.contains("under the same path"), "{text}");
}

pub fn failed(ran: &Ran, address: &str, said: &str) {
    assert_eq!(ran.code, Some(1), "{}{}", ran.out, ran.err);
    assert_eq!(ran.out, "");
    for words in [said, address, "way out"] {
        assert!(ran.err.contains(words), "{}", ran.err);
    }
}

/// Waits until so many files of the store's history are begun.
fn wait_for_history(store: &Path, files: usize) {
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(60) {
        let building = half_done(store)
            .into_iter()
            .find(|n| n.starts_with(".building"));
        let written = building.map_or(0, |b| {
            std::fs::read_dir(store.join("history").join(b)).map_or(0, |files| files.count())
        });
        if written >= files {
            return;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("no history was begun");
}
