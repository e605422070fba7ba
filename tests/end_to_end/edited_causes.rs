//! A shop corrects the cause of a case and exports again: the old cause is gone, without a key being told in the mapping.

use boretally::history::{HistoryOptions, open};
use boretally::query::local::Local;
use boretally::store::Store;
use serde_json::Value as Json;

use super::shop::{CASES, CASES_MAPPING, run, write_exports};

/// The shop's mapping without a key for findings: case, cause and cylinder tell them apart.
fn mapping() -> String {
    let (cases, findings) = CASES_MAPPING
        .split_once("into = \"findings\"")
        .expect("a table of findings");
    let findings = findings.replace("record = \"Order\"\n", "");
    let mapping = format!("{cases}into = \"findings\"{findings}");
    assert_ne!(mapping, CASES_MAPPING);
    mapping
}

/// Causes of alder-4 with their counts, as `shares` tells them, the ingest account of the second export, and how many findings
/// it replaced.
fn causes(second: &str) -> (Vec<(String, u64)>, Json, u64) {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let exports = write_exports(folder);
    std::fs::write(exports.join("cases.mapping.toml"), mapping()).unwrap();
    let ingest = [
        "ingest", "exports", "--store", "records", "--format", "json",
    ];
    run(folder, &ingest).done();
    std::fs::write(exports.join("cases.csv"), second).unwrap();
    let account = run(folder, &ingest).json();
    let asked = [
        "shares", "--store", "records", "--family", "alder-4", "--format", "json",
    ];
    let shares = run(folder, &asked).json();
    let told = shares["groups"][0]["causes"].as_array().unwrap();
    let told = told.iter().map(|c| {
        let cause = c["cause"].as_str().unwrap().to_owned();
        (cause, c["count"].as_u64().unwrap())
    });
    let mut told: Vec<_> = told.collect();
    told.sort();
    let store = Store::open(folder.join("records")).unwrap();
    let history = open(&store, &mut Local::new(), &HistoryOptions::default()).unwrap();
    (told, account, history.account.spans.findings_replaced)
}

fn owned(list: &[(&str, u64)]) -> Vec<(String, u64)> {
    list.iter().map(|(c, n)| ((*c).to_owned(), *n)).collect()
}

#[test]
fn a_corrected_cause_replaces_the_old_one() {
    // Order 201 was no valve after all, and its hours are others.
    let corrected = CASES.replace("exhaust_valve_leak,3,3,9.5", "head_gasket,3,3,11.0");
    assert_ne!(corrected, CASES);
    let (told, account, replaced) = causes(&corrected);
    let expected = [
        ("exhaust_valve_leak", 1),
        ("head_gasket", 2),
        ("spark_plug", 1),
    ];
    assert_eq!(told, owned(&expected));
    // The other five lines are as they were.
    assert_eq!(account["totals"]["duplicate"], 5);
    assert_eq!(replaced, 1);
}

#[test]
fn an_unknown_cause_repaired_later_joins_the_findings_of_its_case() {
    // A second line for order 201 has a cause that no code list knows: that finding alone waits in quarantine.
    let second = CASES.to_owned()
        + "201,A1,Larkmouth,2022-06-01,2022-06-03,108000,ALDER 1.6,2015,P0303,confirmed,Ventil??,3,2,1,80\n";
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let exports = write_exports(folder);
    std::fs::write(exports.join("cases.mapping.toml"), mapping()).unwrap();
    std::fs::write(exports.join("cases.csv"), &second).unwrap();
    run(folder, &["ingest", "exports", "--store", "records"]);
    run(
        folder,
        &["store", "quarantine", "records", "--out", "exports/bad"],
    )
    .done();
    let bad = std::fs::read_dir(exports.join("bad")).unwrap();
    let mut repaired = 0;
    for file in bad {
        let path = file.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        if !text.contains("Ventil??") {
            continue;
        }
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        // The mapping takes cases.csv by its name, wherever it lies.
        let mapping =
            mapping().replace("files = [\"cases.csv\"]", &format!("files = [\"{name}\"]"));
        let again = folder.join("again");
        std::fs::create_dir_all(&again).unwrap();
        std::fs::write(again.join("cases.mapping.toml"), mapping).unwrap();
        std::fs::write(again.join(name), text.replacen("Ventil??", "head_crack", 1)).unwrap();
        std::fs::copy(exports.join("families.toml"), again.join("families.toml")).unwrap();
        repaired += 1;
    }
    assert_eq!(repaired, 1);
    run(folder, &["ingest", "again", "--store", "records"]).done();
    let asked = [
        "cylinders",
        "--store",
        "records",
        "--family",
        "alder-4",
        "--cause",
        "head_crack",
        "--format",
        "json",
    ];
    assert_eq!(run(folder, &asked).json()["evidence"]["events"], 1);
    let asked = [
        "cylinders",
        "--store",
        "records",
        "--family",
        "alder-4",
        "--cause",
        "exhaust_valve_leak",
        "--format",
        "json",
    ];
    assert_eq!(run(folder, &asked).json()["evidence"]["events"], 2);
}
