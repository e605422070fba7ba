//! `budget` through the whole program: a roster on the shop of two sites, row by row, and the same budget twice.

use std::path::{Path, PathBuf};

use calamine::{Data, DataType, Reader, Xlsx, open_workbook};
use serde_json::Value as Json;

use super::shop::{Ran, run, shop};

/// A1 and B2 as they stand in the records; N1 is new to them. The rest are mistakes, one each.
const ROSTER: &str = "\
unit,engine_family,odometer_km,planned_km,remark
A1,alder-4,125000,30000,
B2,,46000,,plan from its own pace
N1,birch-6,9000,15000,unknown to the records
A2,alder-4,59999,20000,below the last visit
A3,alder-4,111000,-5,negative
A1,alder-4,125000,30000,twice
N2,pine-9,5000,5000,no such family
N3,alder-4,5000,,no plan and no pace
N4,,5000,5000,no family
=HYPERLINK(\"x\"),alder-4,20000,10000,a formula
";

fn roster(folder: &Path) -> PathBuf {
    let file = folder.join("fleet.csv");
    std::fs::write(&file, ROSTER).unwrap();
    file
}

fn budget(more: &[&str]) -> Ran {
    let folder = tempfile::tempdir().unwrap();
    let file = roster(folder.path());
    let file = file.to_str().unwrap();
    let first = [
        "budget", "--store", "records", "--roster", file, "--draws", "100",
    ];
    let arguments: Vec<&str> = first.iter().chain(more).copied().collect();
    run(shop(), &arguments)
}

/// Answers with every field, for the check of the contract.
pub fn answers() -> Vec<Json> {
    let stated = [
        "--rate-per-hour",
        "120",
        "--recorded-rate",
        "100",
        "--repair-cost",
        "2000",
        "--head-cost",
        "2100",
        "--engine-cost",
        "6000",
        "--keep",
        "200000",
        "--format",
        "json",
    ];
    let check = "budget --store records --check 2022-06-30 --draws 100 --format json";
    let check: Vec<&str> = check.split(' ').collect();
    vec![budget(&stated).json(), run(shop(), &check).json()]
}

#[test]
fn every_row_becomes_a_unit_or_a_message() {
    let answer = budget(&["--format", "json"]).json();
    let bad: Vec<(u64, &str)> = answer["bad_rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| {
            (
                row["line"].as_u64().unwrap(),
                row["field"].as_str().unwrap(),
            )
        })
        .collect();
    assert_eq!(
        bad,
        [
            (5, "odometer"),
            (6, "planned_distance"),
            (7, "vehicle"),
            (8, "engine_family"),
            (9, "planned_distance"),
            (10, "engine_family"),
        ]
    );
    for row in answer["bad_rows"].as_array().unwrap() {
        assert!(!row["problem"].as_str().unwrap().is_empty());
        assert!(!row["remedy"].as_str().unwrap().is_empty());
    }
    let units = answer["units"].as_array().unwrap();
    assert_eq!(answer["total"]["units"], 4);
    assert_eq!(units.len(), 4);
    let unit = |name: &str| units.iter().find(|u| u["unit"] == name).unwrap();
    // A1 is 5,000 km on from its last visit and has had a valve leak; the plan is the roster's.
    assert_eq!(unit("A1")["start_m"], 125_000_000);
    assert_eq!(unit("A1")["repaired"], true);
    assert_eq!(unit("A1")["planned_from"], "roster");
    // B2 drove to the end of its observation in so many days; a year at that pace, and the family of the records.
    assert_eq!(unit("B2")["planned_from"], "own pace");
    assert_eq!(unit("B2")["family"], "birch-6");
    assert!(unit("B2")["planned_m"].as_i64().unwrap() > 20_000_000);
    for unit in units {
        let p = unit["probability"].as_f64().unwrap();
        assert!(p > 0.0 && p < 1.0, "{unit}");
    }
}

#[test]
fn families_and_units_add_up_to_the_whole() {
    let answer = budget(&["--format", "json"]).json();
    let number = |value: &Json| value.as_f64().unwrap();
    let of_families = |path: &str| -> f64 {
        let families = answer["families"].as_array().unwrap().iter();
        families
            .map(|f| number(f["outlook"].pointer(path).unwrap()))
            .sum()
    };
    for path in ["/count/expected", "/units"] {
        let whole = number(answer["total"].pointer(path).unwrap());
        assert!((of_families(path) / whole - 1.0).abs() < 1e-9, "{path}");
    }
    let cost = number(&answer["total"]["cost"]["expected"]);
    // Each is rounded to the cent.
    assert!((of_families("/cost/expected") - cost).abs() < 0.03);
    let of_months = |path: &str| -> f64 {
        let months = answer["months"].as_array().unwrap().iter();
        months.map(|m| number(m.pointer(path).unwrap())).sum()
    };
    let count = number(&answer["total"]["count"]["expected"]);
    assert!((of_months("/count/expected") / count - 1.0).abs() < 1e-9);
    assert!((of_months("/cost/expected") - cost).abs() < 0.07);
    let whole: f64 = answer["count_distribution"]
        .as_array()
        .unwrap()
        .iter()
        .map(number)
        .sum();
    assert!((whole - 1.0).abs() < 1e-5);
    let drivers: f64 = answer["drivers"]
        .as_array()
        .unwrap()
        .iter()
        .map(|d| number(&d["share"]))
        .sum();
    assert!((drivers - 1.0).abs() < 1e-9);
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_does_not() {
    let once = budget(&["--format", "json"]).out;
    assert_eq!(once, budget(&["--format", "json"]).out);
    assert_ne!(once, budget(&["--format", "json", "--seed", "2"]).out);
}

/// Read back with a library that did not write it.
#[test]
fn the_workbook_has_numbers_days_and_formulas_and_no_formula_from_the_roster() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("budget.xlsx");
    let answer = budget(&["--format", "json", "--workbook", file.to_str().unwrap()]).json();
    let mut book: Xlsx<_> = open_workbook(&file).unwrap();
    let units = book.worksheet_range("units").unwrap();
    let name = Data::String("=HYPERLINK(\"x\")".to_string());
    assert!(units.rows().any(|row| row.contains(&name)));
    assert!(
        book.worksheet_formula("units")
            .unwrap()
            .used_cells()
            .next()
            .is_none()
    );
    let chance = units
        .rows()
        .nth(1)
        .unwrap()
        .iter()
        .filter(|cell| cell.is_float());
    assert!(chance.count() >= 4);
    let months = book.worksheet_range("months").unwrap();
    assert!(months.rows().skip(1).all(|row| row[1].is_datetime()));
    let formulas = book.worksheet_formula("budget").unwrap();
    let formulas: Vec<&String> = formulas.used_cells().map(|(_, _, text)| text).collect();
    for part in ["(1+$B$2)^$B$3", "SUM(G", "INDEX(reserves!", "families!"] {
        assert!(
            formulas.iter().any(|text| text.contains(part)),
            "{part}: {formulas:?}"
        );
    }
    // What the formulas give before anything is changed is the budget itself.
    let first = book.worksheet_range("budget").unwrap();
    let row = first
        .rows()
        .find(|row| row[0] == Data::String("all".to_string()))
        .unwrap();
    let value = |cell: &Data| cell.to_string().parse::<f64>().unwrap();
    let cost = answer["total"]["cost"]["expected"].as_f64().unwrap();
    assert!((value(&row[6]) - cost).abs() < 0.01, "{row:?}");
}

#[test]
fn a_small_fleet_is_told_that_the_average_year_never_comes() {
    let table = budget(&[]);
    assert!(table.done().contains("Most likely none"), "{}", table.out);
}

#[test]
fn a_past_budget_is_held_against_what_came() {
    let line = "budget --store records --check 2022-05-31 --months 6 --draws 100 --format json";
    let answer = run(shop(), &line.split(' ').collect::<Vec<_>>()).json();
    let row = &answer["rows"][0];
    // Valve leaks of A1 on 2022-06-01 and A2 on 2022-08-01; the head gasket of D1 is a walk-in.
    assert_eq!(row["observed"], 2);
    assert_eq!(row["failures_known"], 0);
    assert_eq!(row["until"], "2022-11-30");
}

#[test]
fn what_is_missing_is_told_with_the_way_out() {
    for (line, part) in [
        ("budget --store records", "--roster"),
        (
            "budget --store records --check 2031-01-01",
            "nothing is recorded",
        ),
        ("budget --store records --roster none.csv", "none.csv"),
        (
            "budget --store records --roster x --repairs valves",
            "--repairs",
        ),
        (
            "budget --store records --roster x --currency XXX",
            "--currency",
        ),
        (
            "budget --store records --roster x --confidence 90",
            "--confidence",
        ),
    ] {
        let ran = run(shop(), &line.split(' ').collect::<Vec<_>>());
        assert!(ran.code == Some(1) || ran.code == Some(2), "{line}");
        assert!(ran.err.contains(part), "{line}: {}", ran.err);
    }
}

#[test]
fn a_report_takes_the_roster_and_whose_numbers_it_has() {
    let folder = tempfile::tempdir().unwrap();
    let (file, pages) = (roster(folder.path()), folder.path().join("pages"));
    let report = |source: &str| {
        let line = [
            "report",
            "--store",
            "records",
            "--roster",
            file.to_str().unwrap(),
            "--source",
            source,
            "--out",
            pages.to_str().unwrap(),
        ];
        run(shop(), &line)
    };
    let unknown = report("nobody");
    assert_ne!(unknown.code, Some(0));
    assert!(unknown.err.contains("nobody"), "{}", unknown.err);
    report("desk").done();
    let page = std::fs::read_to_string(pages.join("budget.html")).unwrap();
    // A unit of the store, and a row that was refused.
    assert!(page.contains("A1") && page.contains("pine-9"), "{page}");
    // Wide tables are shown in parts: no column may get lost between them.
    let whole = std::fs::read_to_string(pages.join("tables/budget.md")).unwrap();
    let lines: Vec<&str> = whole.lines().collect();
    let headings = lines.windows(2).filter(|pair| pair[1].starts_with("| ---"));
    let titles: Vec<&str> = headings
        .flat_map(|pair| pair[0].trim_matches('|').split('|').map(str::trim))
        .collect();
    assert!(titles.len() > 30, "{titles:?}");
    for title in &titles {
        let wanted = titles.iter().filter(|other| *other == title).count();
        let shown = page.matches(&format!(">{title}</th>")).count();
        assert!(shown >= wanted, "{title}: {shown} of {wanted}");
    }
}
