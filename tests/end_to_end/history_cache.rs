//! Derived history may be deleted, damaged or built twice at once, and never changes an answer.

use std::fs;
use std::path::PathBuf;

use boretally::history::{HistoryAccount, HistoryOptions, open};
use boretally::query::engine::Engine;
use boretally::query::local::Local;
use boretally::store::Store;

use super::history_store::{Export, little_store};

/// Opens with a fresh engine and reads what the tallies read, so that a damaged file would be met.
fn read(store: &Store) -> (HistoryAccount, String) {
    let mut engine = Local::new();
    let history = open(store, &mut engine, &HistoryOptions::default()).expect("history");
    let sql = "SELECT site, SUM(distance_m) AS m FROM pieces GROUP BY site ORDER BY site";
    let pieces = engine.query(sql).expect("pieces");
    let sql = "SELECT cause, COUNT(*) AS n FROM episodes GROUP BY cause ORDER BY cause";
    let episodes = engine.query(sql).expect("episodes");
    (history.account, format!("{pieces:?} {episodes:?}"))
}

fn layers(store: &Store) -> Vec<PathBuf> {
    let entries = fs::read_dir(store.history_folder()).expect("the history folder");
    let mut paths: Vec<PathBuf> = entries.map(|e| e.expect("an entry").path()).collect();
    paths.sort();
    paths
}

fn store() -> (Store, tempfile::TempDir) {
    let folder = tempfile::tempdir().expect("a folder");
    (little_store(&folder), folder)
}

#[test]
fn a_second_opening_uses_the_first() {
    let (store, _folder) = store();
    let first = read(&store);
    let made = layers(&store);
    assert_eq!(made.len(), 2, "{made:?}");
    let stamps = |paths: &[PathBuf]| -> Vec<_> {
        paths
            .iter()
            .map(|p| {
                fs::metadata(p.join("history.json"))
                    .and_then(|m| m.modified())
                    .expect("a time")
            })
            .collect()
    };
    let before = stamps(&made);
    assert_eq!(read(&store), first);
    assert_eq!(stamps(&layers(&store)), before);
}

#[test]
fn damage_is_rebuilt() {
    let (store, _folder) = store();
    let whole = read(&store);
    let damages: [fn(&PathBuf); 5] = [
        |layer| fs::remove_file(layer.join("history.json")).expect("removed"),
        |layer| fs::write(layer.join("history.json"), "{\"key\": ").expect("written"),
        |layer| fs::write(data_file(layer), b"PAR1 no longer").expect("written"),
        |layer| fs::remove_file(data_file(layer)).expect("removed"),
        |layer| fs::remove_dir_all(layer).expect("removed"),
    ];
    for damage in damages {
        for layer in layers(&store) {
            damage(&layer);
            assert_eq!(read(&store), whole);
            assert_eq!(layers(&store).len(), 2, "{:?}", layers(&store));
        }
    }
}

/// A file of the layer that the tallies read.
fn data_file(layer: &std::path::Path) -> PathBuf {
    let pieces = layer.join("pieces.parquet");
    match pieces.exists() {
        true => pieces,
        false => layer.join("episodes.parquet"),
    }
}

#[test]
fn two_at_once_agree() {
    let (store, _folder) = store();
    let path = store.path().to_owned();
    let results: Vec<_> = std::thread::scope(|scope| {
        let runs: Vec<_> = (0..3)
            .map(|_| {
                let path = path.clone();
                scope.spawn(move || read(&Store::open(path).expect("the store")))
            })
            .collect();
        runs.into_iter()
            .map(|r| r.join().expect("no panic"))
            .collect()
    });
    assert!(results.iter().all(|r| *r == results[0]));
    assert_eq!(layers(&store).len(), 2, "{:?}", layers(&store));
}

#[test]
fn more_records_make_another_history() {
    let (store, _folder) = store();
    let before = read(&store);
    let mut third = Export::begin(&store, "third", "2023-08-01");
    third.visit("A", "Ashby", "2023-07-10", 125_000_000, Some("alder-4"));
    third.commit();
    let store = Store::open(store.path()).expect("the store");
    let after = read(&store);
    assert_eq!(
        after.0.spans.exposure_m,
        // The rest of the way to 120, and none of the 30 days to 125.
        before.0.spans.exposure_m + 4_750_000
    );
}
