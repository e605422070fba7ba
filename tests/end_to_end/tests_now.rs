//! Test steps in their newest version, from the rows of two exports.

use arrow::array::AsArray;
use arrow::datatypes::{Float64Type, Int64Type};
use boretally::history::{HistoryOptions, StepAccount, open, open_steps};
use boretally::query::engine::Engine;
use boretally::query::local::Local;
use boretally::store::{InitOptions, Store};

use super::history_store::Export;

fn store(folder: &tempfile::TempDir) -> Store {
    let store = Store::init(folder.path().join("s"), &InitOptions::default()).expect("a store");
    let mut first = Export::begin(&store, "first", "2023-01-01");
    first.case(
        "K1",
        "A",
        "Ashby",
        "2022-01-10",
        1000,
        Some("alder-4"),
        "confirmed",
        vec![],
    );
    first.step(
        "K1",
        2,
        "cranking_compression",
        Some(1),
        Some(900.0),
        "normal",
    );
    first.step(
        "K1",
        2,
        "cranking_compression",
        Some(2),
        Some(400.0),
        "normal",
    );
    first.step("K1", 1, "scan_codes_data", None, None, "normal");
    first.step(
        "K9",
        1,
        "cranking_compression",
        Some(1),
        Some(1000.0),
        "normal",
    );
    first.commit();
    let mut second = Export::begin(&store, "second", "2023-02-01");
    second.step(
        "K1",
        2,
        "cranking_compression",
        Some(2),
        Some(450.0),
        "abnormal",
    );
    second.commit();
    store
}

#[test]
fn the_newest_version_of_a_step_counts() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = store(&folder);
    let mut engine = Local::new();
    for _ in 0..2 {
        // Built, then read from the folder.
        let history = open(&store, &mut engine, &HistoryOptions::default()).expect("history");
        let account = open_steps(&store, &mut engine, &history).expect("steps");
        let expected = StepAccount {
            steps: 4,
            with_reading: 3,
            without_case: 1,
        };
        assert_eq!(account, expected);
    }
    let sql = "SELECT place, cylinder, reading, result FROM tests_now WHERE case_id = 'K1' ORDER BY place, cylinder";
    let rows = engine.query(sql).expect("rows");
    let whole = |i: usize| {
        rows.column(i)
            .as_primitive::<Int64Type>()
            .iter()
            .collect::<Vec<_>>()
    };
    assert_eq!(whole(0), [Some(1), Some(2), Some(2)]);
    assert_eq!(whole(1), [None, Some(1), Some(2)]);
    let readings = rows.column(2).as_primitive::<Float64Type>();
    assert_eq!(
        readings.iter().collect::<Vec<_>>(),
        [None, Some(900.0), Some(450.0)]
    );
    assert_eq!(rows.column(3).as_string::<i32>().value(2), "abnormal");
}
