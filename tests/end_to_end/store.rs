//! `store` as a user runs it: made, listed, checked, damaged, and what is said when it is not there.

use std::path::Path;

use assert_cmd::Command;
use boretally::domain::day::Day;
use boretally::domain::table::Table;
use boretally::store::rows::index_of;
use boretally::store::{BatchAccount, BatchHeader, Begin, Store};
use serde_json::Value as Json;

fn run(arguments: &[&str]) -> (Option<i32>, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_boretally"));
    let output = command.args(arguments).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (
        output.status.code(),
        text(&output.stdout),
        text(&output.stderr),
    )
}

fn made(folder: &Path) -> String {
    let path = folder.join("shop.store").display().to_string();
    let (code, said, _) = run(&["store", "init", &path]);
    assert_eq!(code, Some(0));
    assert!(said.contains("shop.store.key"), "{said}");
    path
}

/// A batch of visits, some of their records in quarantine.
fn add(path: &str, content: &str, good: i64, bad: i64) {
    let store = Store::open(path).unwrap();
    let header = BatchHeader {
        source: "desk".into(),
        file: format!("{content}.csv"),
        content_hash: content.into(),
        mapping: "desk.mapping.toml".into(),
        mapping_hash: "1".into(),
        export_date: Day::parse_iso("2024-06-30"),
    };
    let Begin::New(mut batch) = store.begin_batch(header).unwrap() else {
        panic!("{content} is there already");
    };
    let sink = batch.sink(Table::Visits).unwrap();
    let column = |name| index_of(Table::Visits, name).unwrap();
    for i in 0..good {
        sink.text(column("vehicle"), &format!("v{i}"));
        sink.text(column("site"), "Larkmouth");
        sink.day(column("date"), Day(19000));
        sink.text(column("record"), &format!("{i}"));
        sink.whole(column("digest"), i);
        sink.whole(column("line"), i + 2);
        sink.end_row().unwrap();
    }
    let sink = batch.sink(Table::Quarantine).unwrap();
    let column = |name| index_of(Table::Quarantine, name).unwrap();
    for i in 0..bad {
        sink.text(column("target"), "visits");
        sink.text(column("field"), "odometer");
        sink.text(
            column("reason"),
            if i == 0 { "bad-number" } else { "excluded" },
        );
        sink.text(column("value"), "12x");
        sink.text(column("raw"), r#"{"Order":"17","Km in":"12x"}"#);
        sink.text(column("record"), "17");
        sink.whole(column("digest"), i);
        sink.whole(column("line"), good + i + 2);
        sink.end_row().unwrap();
    }
    let account = BatchAccount {
        read: (good + bad) as u64,
        kept: good as u64,
        quarantined: bad as u64,
        ..Default::default()
    };
    batch.commit(account).unwrap();
}

#[test]
fn batches_are_listed_with_their_account() {
    let folder = tempfile::tempdir().unwrap();
    let path = made(folder.path());
    add(&path, "june", 5, 2);
    add(&path, "july", 3, 0);
    let (code, text, _) = run(&["store", "list", &path]);
    assert_eq!(code, Some(0));
    assert!(
        text.contains("june.csv") && text.contains("rows: 8 visits"),
        "{text}"
    );
    let (_, json, _) = run(&["store", "list", &path, "--format", "json"]);
    let json: Json = serde_json::from_str(&json).unwrap();
    let june = &json["batches"][0];
    assert_eq!(june["seq"], 1);
    assert_eq!(june["source"], "desk");
    assert_eq!(june["export_date"], "2024-06-30");
    assert_eq!(june["account"]["read"], 7);
    assert_eq!(june["account"]["rows"]["visits"], 5);
    assert_eq!(june["account"]["rows"]["quarantine"], 2);
    assert_eq!(json["batches"].as_array().unwrap().len(), 2);

    let before = json["fingerprint"].clone();
    let (code, said, _) = run(&["store", "compact", &path]);
    assert_eq!(code, Some(0));
    assert!(
        said.contains("2 batches with 10 rows together: 3 files"),
        "{said}"
    );
    let (_, said, _) = run(&["store", "compact", &path]);
    assert!(said.contains("compact already"), "{said}");
    let (_, json, _) = run(&["store", "list", &path, "--format", "json"]);
    let json: Json = serde_json::from_str(&json).unwrap();
    assert_eq!(json["fingerprint"], before);
}

#[test]
fn damage_is_named_and_ends_with_code_1() {
    let folder = tempfile::tempdir().unwrap();
    let path = made(folder.path());
    add(&path, "june", 5, 0);
    let (code, text, _) = run(&["store", "verify", &path]);
    assert_eq!(code, Some(0));
    assert!(text.contains("sound: 1 batches, 1 files, 5 rows"), "{text}");

    let scrap = Path::new(&path).join("staging/000009-dead");
    std::fs::create_dir_all(&scrap).unwrap();
    let (code, text, _) = run(&["store", "verify", &path]);
    assert_eq!(code, Some(0));
    assert!(text.contains("000009-dead") && scrap.exists(), "{text}");
    let (code, text, _) = run(&["store", "verify", &path, "--remove-scrap"]);
    assert_eq!(code, Some(0));
    assert!(
        text.contains("removed 1 pieces") && !scrap.exists(),
        "{text}"
    );

    let store = Store::open(&path).unwrap();
    std::fs::write(&store.table_files(Table::Visits).unwrap()[0], "harm").unwrap();
    let (code, json, _) = run(&["store", "verify", &path, "--format", "json"]);
    assert_eq!(code, Some(1));
    let json: Json = serde_json::from_str(&json).unwrap();
    assert_eq!(json["sound"], false);
    assert!(
        json["damage"][0]["what"]
            .as_str()
            .unwrap()
            .contains("checksum")
    );
}

#[test]
fn bad_records_are_shown_and_written_for_repair() {
    let folder = tempfile::tempdir().unwrap();
    let path = made(folder.path());
    add(&path, "june", 5, 2);
    let (code, text, said) = run(&["store", "quarantine", &path]);
    assert_eq!(code, Some(0), "{said}");
    assert!(
        text.contains("1 records wait for repair") && text.contains("bad-number"),
        "{text}"
    );
    assert!(!text.contains("excluded"), "{text}");
    let (_, json, _) = run(&["store", "quarantine", &path, "--all", "--format", "json"]);
    let json: Json = serde_json::from_str(&json).unwrap();
    assert_eq!((&json["found"], &json["records"]), (&2.into(), &2.into()));

    let file = folder.path().join("bad.csv");
    let file = file.to_str().unwrap();
    let (code, said, _) = run(&["store", "quarantine", &path, "--out", file]);
    assert_eq!(code, Some(0));
    assert!(said.contains("1 records of june.csv"), "{said}");
    let csv = std::fs::read_to_string(file).unwrap();
    assert!(csv.starts_with("Order,Km in,boretally_reason,"), "{csv}");
    assert!(
        csv.contains("\n17,12x,bad-number,odometer,12x,,june.csv,7\n"),
        "{csv}"
    );

    add(&path, "july", 0, 1);
    let (code, _, said) = run(&["store", "quarantine", &path, "--out", file]);
    assert_eq!(code, Some(2));
    assert!(said.contains("--file"), "{said}");
    let out = folder.path().join("repair");
    let (code, _, _) = run(&["store", "quarantine", &path, "--out", out.to_str().unwrap()]);
    assert_eq!(code, Some(0));
    assert!(out.join("desk.july.csv.repair.csv").is_file());
    let (_, text, _) = run(&["store", "quarantine", &path, "--reason", "no-such-reason"]);
    assert!(text.contains("nothing waits for repair"), "{text}");
}

#[test]
fn what_cannot_be_is_told_with_a_way_out() {
    let folder = tempfile::tempdir().unwrap();
    let path = made(folder.path());
    let nowhere = folder.path().join("nowhere").display().to_string();
    let cases: [(&[&str], i32, &str); 6] = [
        (&["store", "init", &path], 1, "a store here already"),
        (&["store", "list", &nowhere], 1, "there is no store here"),
        (
            &["store", "verify", folder.path().to_str().unwrap()],
            1,
            "not a store",
        ),
        (&["store"], 2, "Usage"),
        (&["store", "lsit", &path], 2, "list"),
        (
            &["store", "init", &nowhere, "--key", &format!("{nowhere}/k")],
            1,
            "must not lie in the store",
        ),
    ];
    for (arguments, code, word) in cases {
        let (found, _, said) = run(arguments);
        assert_eq!(found, Some(code), "{arguments:?}: {said}");
        assert!(said.contains(word), "{arguments:?}: {said}");
    }
    let settings = Path::new(&path).join("store.json");
    let text = std::fs::read_to_string(&settings).unwrap();
    std::fs::write(&settings, text.replace("\"format\": 4", "\"format\": 7")).unwrap();
    let (code, _, said) = run(&["store", "list", &path]);
    assert_eq!(code, Some(1));
    assert!(
        said.contains("format 7") && said.contains("newer version"),
        "{said}"
    );
}

#[test]
fn many_processes_add_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = made(folder.path());
    // Other processes: each opens the store and reads it while batches come and go.
    std::thread::scope(|scope| {
        for t in 0..3 {
            let path = &path;
            scope.spawn(move || {
                for i in 0..3 {
                    add(path, &format!("t{t}-{i}"), 4, 0);
                }
            });
            scope.spawn(move || {
                let (code, text, said) = run(&["store", "verify", path]);
                assert_eq!(code, Some(0), "{text}{said}");
            });
        }
        scope.spawn(|| {
            let (code, _, said) = run(&["store", "compact", &path]);
            assert_eq!(code, Some(0), "{said}");
        });
    });
    let (code, text, _) = run(&["store", "verify", &path]);
    assert_eq!(code, Some(0), "{text}");
    assert!(text.contains("36 rows"), "{text}");
}
