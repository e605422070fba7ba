//! What a user is told when something is wrong: the place, the value, the way out, and an exit code that says whose turn
//! it is (1 the data, 2 the command line).

use std::path::Path;

use super::shop::{
    CASES, CASES_MAPPING, FAMILIES, Ran, VISITS, VISITS_MAPPING, run, shop, write_exports,
};

fn told(ran: &Ran, code: i32, words: &[&str]) {
    assert_eq!(ran.code, Some(code), "{}{}", ran.out, ran.err);
    for word in words {
        assert!(ran.err.contains(word), "{word:?} is not in: {}", ran.err);
    }
}

/// The shop's exports with one file changed, ingested into a new store.
fn ingest_with(name: &str, content: &[u8]) -> (tempfile::TempDir, Ran) {
    let folder = tempfile::tempdir().unwrap();
    let exports = write_exports(folder.path());
    std::fs::write(exports.join(name), content).unwrap();
    let ran = run(folder.path(), &["ingest", "exports", "--store", "records"]);
    (folder, ran)
}

fn batches(folder: &Path) -> usize {
    let list = run(folder, &["store", "list", "records", "--format", "json"]).json();
    list["batches"].as_array().unwrap().len()
}

#[test]
fn command_lines_that_ask_for_nothing_there_is() {
    let cases: [(&str, &[&str]); 21] = [
        ("ratez", &["ratez", "rates"]),
        ("rates --by famly", &["--by", "famly", "family"]),
        (
            "rates --store records --level 2.0",
            &["--level", "value \"2\"", "between 0 and 1", "way out"],
        ),
        (
            "rates --store records --level NaN",
            &["--level", "between 0 and 1"],
        ),
        ("rates --store records --level high", &["--level", "high"]),
        (
            "rates --store records --from 2023-01-01 --to 2022-01-01",
            &[
                "--to",
                "2022-01-01",
                "before it begins",
                "on or after 2023-01-01",
            ],
        ),
        (
            "rates --store records --from 2023-13-01",
            &["--from", "2023-13-01", "2023-06-30"],
        ),
        (
            "rates --store records --method garwod",
            &["--method", "garwod", "did you mean garwood?"],
        ),
        (
            "shares --store records --method wilsn",
            &["--method", "wilsn", "did you mean wilson?"],
        ),
        ("shares --store records --by cause", &["--by", "way out"]),
        (
            "shares --store records --complaint P3",
            &["--complaint", "P3", "P0303"],
        ),
        (
            "cylinders --store records",
            &["--family", "alder-4, birch-6"],
        ),
        (
            "cylinders --store records --family alder-4 --method goodmn",
            &["did you mean goodman?"],
        ),
        (
            "rates --store records --band 3,2",
            &["--band", "3,2", "0,50,100"],
        ),
        (
            "rates --store records --cylinder 99",
            &["--cylinder", "99", "1 to 16"],
        ),
        (
            "rates --store records --format parquet",
            &["--format", "parquet", "--out"],
        ),
        (
            "interval proportion 5 3",
            &["5 events out of 3 trials", "way out"],
        ),
        ("interval rate 3 0", &["EXPOSURE", "positive", "way out"]),
        ("ingest exports", &["--store", "way out"]),
        ("synth --vehicles 0 --out new", &["--vehicles", "way out"]),
        (
            "synth --vehicles 9 --sites 0 --out new",
            &["--sites", "way out"],
        ),
    ];
    for (line, words) in cases {
        let arguments: Vec<&str> = line.split(' ').collect();
        let ran = run(shop(), &arguments);
        told(&ran, 2, words);
        assert_eq!(ran.out, "", "{line}");
    }
}

#[test]
fn names_that_the_store_does_not_know() {
    let cases: [(&str, &[&str]); 6] = [
        (
            "rates --store records --family aldr-4",
            &["--family", "aldr-4", "did you mean \"alder-4\"?"],
        ),
        (
            "rates --store records --cause exhaust_valv_leak",
            &["--cause", "did you mean \"exhaust_valve_leak\"?"],
        ),
        (
            "rates --store records --site Larkmoth",
            &["--site", "did you mean Larkmouth?", "Thornby"],
        ),
        (
            "rates --store records --from 2030-01-01",
            &["there is no rate", "loosen the filters"],
        ),
        (
            "rates --store nowhere",
            &["nowhere", "there is no store here", "store init nowhere"],
        ),
        (
            "rates --store exports",
            &["exports", "not a store", "way out"],
        ),
    ];
    for (line, words) in cases {
        let arguments: Vec<&str> = line.split(' ').collect();
        told(&run(shop(), &arguments), 1, words);
    }
}

#[test]
fn a_place_that_cannot_be_written_is_named() {
    let arguments = "interval proportion 3 100 --format csv --out exports/cases.csv/x.csv";
    let arguments: Vec<&str> = arguments.split(' ').collect();
    told(
        &run(shop(), &arguments),
        1,
        &["exports/cases.csv", "way out"],
    );
}

#[test]
fn exports_that_are_not_there_or_cannot_be_read() {
    let folder = tempfile::tempdir().unwrap();
    write_exports(folder.path());
    let missing = ["ingest", "exports/july.csv", "--store", "records"];
    told(
        &run(folder.path(), &missing),
        1,
        &["exports/july.csv", "no such file", "way out"],
    );

    let (folder, ran) = ingest_with("visits.csv", b"");
    told(
        &ran,
        1,
        &["exports/visits.csv", "the file is empty", "way out"],
    );
    assert!(ran.out.contains("failed"), "{}", ran.out);
    // What is sound beside it is taken in.
    assert_eq!(batches(folder.path()), 1);

    let header = VISITS.lines().next().unwrap();
    let (_, ran) = ingest_with("visits.csv", header.as_bytes());
    told(&ran, 1, &["exports/visits.csv", "no record", "way out"]);

    let noise: Vec<u8> = (0..4000u32)
        .map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8)
        .collect();
    let folder = tempfile::tempdir().unwrap();
    let exports = write_exports(folder.path());
    std::fs::write(exports.join("jobs.xlsx"), noise).unwrap();
    let mapping = VISITS_MAPPING
        .replace("visits*.csv", "*.xlsx")
        .replace("delimited", "workbook");
    std::fs::write(exports.join("jobs.mapping.toml"), mapping).unwrap();
    let ran = run(folder.path(), &["ingest", "exports", "--store", "records"]);
    told(
        &ran,
        1,
        &[
            "exports/jobs.xlsx",
            "the workbook cannot be read",
            "way out",
        ],
    );
    assert_eq!(batches(folder.path()), 2);
}

#[test]
fn mappings_and_families_that_are_wrong() {
    let changed = |from: &str, to: &str| {
        let text = VISITS_MAPPING.replace(from, to);
        assert_ne!(text, VISITS_MAPPING, "{from}");
        ingest_with("visits.mapping.toml", text.as_bytes()).1
    };
    let ran = changed("\"Km\"", "\"Kilometres\"");
    told(
        &ran,
        1,
        &[
            "visits.mapping.toml",
            "columns.odometer",
            "Kilometres",
            "exports/visits.csv",
            "there are: Order, Unit",
        ],
    );
    let ran = changed("odometer =", "odometr =");
    told(
        &ran,
        1,
        &[
            "visits.mapping.toml",
            "odometr",
            "did you mean \"odometer\"?",
        ],
    );
    let ran = changed("site = \"Site\"", "site = \"Site");
    told(&ran, 1, &["visits.mapping.toml, line 12: ", "way out"]);
    let ran = changed("visits*.csv", "visit_*.csv");
    told(
        &ran,
        1,
        &["visits.mapping.toml", "visit_*.csv", "matches no file"],
    );

    let text = format!("{CASES_MAPPING}[codes.cause]\n\"BURNT\" = \"exhaust_valve_leek\"\n");
    let (_, ran) = ingest_with("cases.mapping.toml", text.as_bytes());
    told(
        &ran,
        1,
        &[
            "cases.mapping.toml",
            "codes.cause",
            "exhaust_valve_leek",
            "did you mean \"exhaust_valve_leak\"?",
        ],
    );

    let text = FAMILIES.replace("[1, 3, 4, 2]", "[1, 3, 3, 2]");
    let (_, ran) = ingest_with("families.toml", text.as_bytes());
    told(
        &ran,
        1,
        &[
            "families.toml, line 1",
            "firing_order",
            "cylinder 3",
            "way out",
        ],
    );
}

#[test]
fn a_wrong_cell_is_kept_apart_with_its_line_and_value() {
    // Line 14 of the shop's visits names a day that no calendar has.
    let list = run(
        shop(),
        &["store", "quarantine", "records", "--format", "json"],
    )
    .json();
    let entry = &list["entries"][0];
    assert_eq!(list["entries"].as_array().unwrap().len(), 1, "{list}");
    assert_eq!(
        [
            &entry["file"],
            &entry["line"],
            &entry["field"],
            &entry["value"]
        ],
        [
            &"visits.csv".into(),
            &14.into(),
            &"date".into(),
            &"2023-06-31".into()
        ] as [&serde_json::Value; 4]
    );
    assert!(CASES.lines().count() == 7);
}

#[test]
fn a_store_without_a_second_visit_has_no_rate() {
    let mut first = String::new();
    for line in VISITS.lines().filter(|l| !l.contains(",2023-")) {
        first += &format!("{line}\n");
    }
    let folder = tempfile::tempdir().unwrap();
    let exports = write_exports(folder.path());
    std::fs::write(exports.join("visits.csv"), first).unwrap();
    for file in ["cases.csv", "cases.mapping.toml"] {
        std::fs::remove_file(exports.join(file)).unwrap();
    }
    run(folder.path(), &["ingest", "exports", "--store", "records"]).done();
    let ran = run(folder.path(), &["rates", "--store", "records"]);
    told(
        &ran,
        1,
        &["records", "no vehicle was seen twice", "way out"],
    );
}

#[test]
fn stores_that_cannot_be_read_say_why() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["store", "init", "records"]).done();
    let settings = folder.path().join("records/store.json");
    let text = std::fs::read_to_string(&settings).unwrap();
    let newer = text.replace("\"format\": 4", "\"format\": 5");
    let older = text.replace("\"format\": 4", "\"format\": 2");
    assert!(newer != text && older != text);
    let cases = [
        (newer.as_str(), ["format 5", "newer version"]),
        (older.as_str(), ["format 2", "ingest the exports again"]),
        ("{", ["store.json, line 1", "restore"]),
        ("", ["store.json", "restore"]),
    ];
    for (content, words) in cases {
        std::fs::write(&settings, content).unwrap();
        for line in [
            "rates --store records",
            "store list records",
            "store verify records",
        ] {
            let arguments: Vec<&str> = line.split(' ').collect();
            told(&run(folder.path(), &arguments), 1, &words);
        }
    }
}
