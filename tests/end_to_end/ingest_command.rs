//! `boretally ingest` as it is typed: folders, patterns, exit codes, the JSON contract, the guess.

use assert_cmd::Command;
use serde_json::Value;

use super::ingest_shop::{FAMILIES, Shop, VIN_A, VIN_B, visits};

fn boretally() -> Command {
    Command::cargo_bin("boretally").expect("the program")
}

fn run(arguments: &[&str], folder: &std::path::Path) -> (i32, String, String) {
    let output = boretally()
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("it runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (
        output.status.code().unwrap_or(-1),
        text(&output.stdout),
        text(&output.stderr),
    )
}

fn exports(shop: &Shop) {
    shop.write("exports/families.toml", FAMILIES);
    shop.write(
        "exports/desk.mapping.toml",
        visits("").replace("*.csv", "north/*.csv"),
    );
    shop.write(
        "exports/north/may.csv",
        format!("Order;VIN;In;Km;Engine;MY\n1;{VIN_A};2024-05-01;1000;Alder 1.6;2014\n2;{VIN_B};soon;1000;;\n"),
    );
    shop.write(
        "exports/north/june.csv",
        format!("Order;VIN;In;Km;Engine;MY\n1;{VIN_A};2024-05-01;1000;Alder 1.6;2014\n"),
    );
}

#[test]
fn a_folder_brings_its_mappings_and_families() {
    let shop = Shop::new();
    exports(&shop);
    let folder = shop.path("");
    let (code, out, err) = run(
        &[
            "ingest",
            "exports",
            "--store",
            "new.store",
            "--format",
            "json",
        ],
        &folder,
    );
    assert_eq!(code, 0, "{err}");
    assert!(err.contains("made a new store"), "{err}");
    let account: Value = serde_json::from_str(&out).expect("JSON");
    assert_eq!(account["contract"], "boretally.ingest/1");
    let files = account["files"].as_array().expect("files");
    assert_eq!(files.len(), 2);
    // June is read first: files come in the order of their names.
    assert_eq!(
        (
            &files[0]["kept"],
            &files[1]["duplicate"],
            &files[1]["quarantined"]
        ),
        (&1.into(), &1.into(), &1.into())
    );
    assert_eq!(files[1]["reasons"]["not-a-date"], 1);
    assert_eq!(account["totals"]["read"], 3);
    for key in [
        "file",
        "mapping",
        "batch",
        "status",
        "read",
        "kept",
        "flagged",
        "duplicate",
        "quarantined",
        "edited",
        "reasons",
        "flags",
        "tables",
    ] {
        assert!(!files[0][key].is_null(), "{key}");
    }
    let (code, out, err) = run(&["ingest", "exports", "--store", "new.store"], &folder);
    assert_eq!(code, 0);
    assert!(
        err.contains("already in the store") && out.contains("already there"),
        "{out}{err}"
    );
}

#[test]
fn what_cannot_be_done_is_told_and_the_rest_is_done() {
    let shop = Shop::new();
    exports(&shop);
    let folder = shop.path("");
    shop.write(
        "exports/south.mapping.toml",
        visits("").replace("*.csv", "south/*.csv"),
    );
    shop.write("exports/north/july.csv", "");
    let (code, out, err) = run(&["ingest", "exports", "--store", "s"], &folder);
    assert_eq!(code, 1);
    assert!(
        err.contains("the pattern matches no file") && err.contains("south/*.csv"),
        "{err}"
    );
    assert!(
        err.contains("july.csv") && out.contains("failed"),
        "{out}{err}"
    );
    assert!(out.contains("3 records read"), "{out}");
    shop.write("lone/a.csv", "a,b\n1,2\n");
    let (code, _, err) = run(&["ingest", "lone/a.csv", "--store", "s"], &folder);
    assert_eq!(code, 1);
    assert!(
        err.contains("no mapping file is for this export")
            && err.contains("ingest --guess lone/a.csv"),
        "{err}"
    );
    let (code, _, err) = run(&["ingest", "nowhere.csv", "--store", "s"], &folder);
    assert_eq!((code, err.contains("no such file")), (1, true), "{err}");
    assert_eq!(run(&["ingest", "exports"], &folder).0, 2);
    assert_eq!(run(&["ingest", "--store", "s"], &folder).0, 2);
}

#[test]
fn one_mapping_can_be_named_for_any_file() {
    let shop = Shop::new();
    exports(&shop);
    let folder = shop.path("");
    std::fs::rename(shop.path("exports/north/may.csv"), shop.path("moved.csv")).unwrap();
    let arguments = [
        "ingest",
        "moved.csv",
        "--mapping",
        "exports/desk.mapping.toml",
        "--families",
        "exports/families.toml",
        "--store",
        "s",
    ];
    let (code, out, err) = run(&arguments, &folder);
    assert_eq!(code, 0, "{out}{err}");
    let (code, _, err) = run(
        &[
            "ingest",
            "mov*.csv",
            "--mapping",
            "exports/desk.mapping.toml",
            "--store",
            "s",
        ],
        &folder,
    );
    assert_eq!(code, 0, "{err}");
}

#[test]
fn a_guess_is_a_mapping_that_works() {
    let shop = Shop::new();
    let folder = shop.path("");
    shop.write("jobs.csv", format!("Order;VIN;Eingang;Km-Stand;Motor;Bj;Ursache;Zyl;Kosten\n1;{VIN_A};31.05.2024;85.000;Alder 1.6;2014;Zuendkerze;3;12,50\n2;{VIN_B};01.06.2024;86.000;Alder 1.6;2014;;;\n"));
    let (code, _, err) = run(
        &[
            "ingest",
            "--guess",
            "jobs.csv",
            "--out",
            "jobs.mapping.toml",
        ],
        &folder,
    );
    assert_eq!(code, 0, "{err}");
    let text = std::fs::read_to_string(shop.path("jobs.mapping.toml")).unwrap();
    for part in [
        "decimal = \",\"",
        "thousands = \".\"",
        "dates = \"dmy\"",
        "unit = \"km\"",
        "# \"Zuendkerze\" =",
    ] {
        assert!(text.contains(part), "{part} is missing in:\n{text}");
    }
    let (code, out, err) = run(&["ingest", "jobs.csv", "--store", "s"], &folder);
    assert_eq!(code, 0, "{out}{err}");
    assert!(out.contains("2 records read"), "{out}");
    assert_eq!(
        run(
            &[
                "ingest",
                "--guess",
                "jobs.csv",
                "--out",
                "jobs.mapping.toml"
            ],
            &folder
        )
        .0,
        1
    );
}

#[test]
fn the_rules_are_listed() {
    let (code, out, _) = run(&["ingest", "--rules"], std::path::Path::new("."));
    assert_eq!(code, 0);
    for id in [
        "ambiguous-number",
        "odometer-placeholder",
        "vin-check-digit",
    ] {
        assert!(out.contains(id), "{id}");
    }
}
