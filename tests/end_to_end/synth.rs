//! Invented fleets as a user makes them: the same bytes every time, and what was damaged is written down.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use boretally::domain::family::Families;
use boretally::domain::vin;

fn boretally(arguments: &[&str]) -> assert_cmd::assert::Assert {
    Command::cargo_bin("boretally")
        .unwrap()
        .args(arguments)
        .assert()
}

fn synth(seed: &str, mess: &str, out: &Path) {
    let out = out.to_str().unwrap();
    boretally(&[
        "synth",
        "--vehicles",
        "150",
        "--sites",
        "6",
        "--seed",
        seed,
        "--mess",
        mess,
        "--out",
        out,
    ])
    .success();
}

/// Every file below a folder, by its path there.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(next) = folders.pop() {
        for entry in std::fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_path_buf();
                found.insert(name, std::fs::read(&path).unwrap());
            }
        }
    }
    found
}

/// The text of an export, whatever its compression and encoding.
fn text(name: &Path, bytes: &[u8]) -> String {
    use std::io::Read as _;
    let mut plain = Vec::new();
    match name.extension().and_then(|e| e.to_str()) {
        Some("gz") => {
            flate2::read::MultiGzDecoder::new(bytes)
                .read_to_end(&mut plain)
                .unwrap();
        }
        Some("zst") => plain = zstd::decode_all(bytes).unwrap(),
        _ => plain = bytes.to_vec(),
    }
    if plain.starts_with(b"\xff\xfe") {
        let units: Vec<u16> = plain[2..]
            .chunks(2)
            .map(|p| u16::from_le_bytes([p[0], p[1]]))
            .collect();
        return String::from_utf16_lossy(&units);
    }
    String::from_utf8_lossy(&plain).into_owned()
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_others() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| dir.path().join(name).join("fleet");
    for (name, seed) in [("a", "7"), ("b", "7"), ("c", "8")] {
        std::fs::create_dir(dir.path().join(name)).unwrap();
        synth(seed, "0.05", &at(name));
    }
    let (a, b, c) = (files(&at("a")), files(&at("b")), files(&at("c")));
    assert!(a.keys().eq(b.keys()));
    for (name, bytes) in &a {
        assert!(
            b[name] == *bytes,
            "{} differs between two runs",
            name.display()
        );
    }
    let workbook = PathBuf::from("coast/jobs-001.xlsx");
    assert!(a[&workbook] != c[&workbook]);
}

/// The sample in the repository is what its README says: made by the command that stands there.
#[test]
fn the_sample_is_what_its_command_makes() {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data");
    let committed = files(&sample);
    let readme = String::from_utf8(committed[Path::new("README.md")].clone()).unwrap();
    let command = readme
        .lines()
        .find_map(|l| l.strip_prefix("    boretally "))
        .unwrap();
    let dir = tempfile::tempdir().unwrap();
    let arguments: Vec<&str> = command.split(' ').collect();
    Command::cargo_bin("boretally")
        .unwrap()
        .current_dir(dir.path())
        .args(&arguments)
        .assert()
        .success();
    let made = files(&dir.path().join("sample-data"));
    let names = |f: &BTreeMap<PathBuf, Vec<u8>>| f.keys().cloned().collect::<BTreeSet<_>>();
    assert_eq!(names(&committed), names(&made));
    for (name, bytes) in &made {
        assert!(
            committed[name] == *bytes,
            "{} is not what the command makes",
            name.display()
        );
    }
}

#[test]
fn without_mess_nothing_is_damaged_and_with_it_every_kind_is_listed() {
    let dir = tempfile::tempdir().unwrap();
    let clean = dir.path().join("clean");
    synth("3", "0", &clean);
    assert_eq!(
        std::fs::read_to_string(clean.join("truth/mess.csv")).unwrap(),
        "file,line,kind\n"
    );
    let messy = dir.path().join("messy");
    synth("3", "0.3", &messy);
    let mess = std::fs::read_to_string(messy.join("truth/mess.csv")).unwrap();
    let kinds: BTreeSet<&str> = mess
        .lines()
        .skip(1)
        .filter_map(|l| l.rsplit(',').next())
        .collect();
    let expected = [
        "bad_date",
        "cluster_replaced",
        "damaged_vin",
        "duplicate_row",
        "missing_cylinder",
        "odometer_rollback",
        "odometer_typo",
        "row_too_long",
        "row_too_short",
        "test_row",
        "undecodable_byte",
        "unit_missing",
        "unknown_cause",
        "zero_odometer",
    ];
    assert_eq!(kinds, BTreeSet::from(expected));
}

/// A line number of the account leads to the damaged line.
#[test]
fn the_account_of_mess_names_the_right_lines() {
    let dir = tempfile::tempdir().unwrap();
    let out = dir.path().join("fleet");
    synth("4", "0.2", &out);
    let mess = std::fs::read_to_string(out.join("truth/mess.csv")).unwrap();
    let (mut vins, mut doubles) = (0, 0);
    for line in mess.lines().skip(1) {
        let parts: Vec<&str> = line.split(',').collect();
        let [file, number, kind] = parts[..] else {
            panic!("{line}")
        };
        if file.contains('#') {
            continue;
        }
        let name = Path::new(file);
        let text = text(name, &std::fs::read(out.join(name)).unwrap());
        let lines: Vec<&str> = text.split('\n').collect();
        let at: usize = number.parse().unwrap();
        let damaged = lines[at - 1];
        match kind {
            "damaged_vin" => {
                assert!(damaged.contains("1.23E+16"), "{line}: {damaged}");
                vins += 1;
            }
            "duplicate_row" if file.starts_with("fleet/polls") => {
                assert_eq!(damaged, lines[at - 2], "{line}");
                doubles += 1;
            }
            _ => {}
        }
    }
    assert!(vins >= 10 && doubles >= 10, "{vins} {doubles}");
}

#[test]
fn identities_are_invented_and_customers_are_never_mapped() {
    let dir = tempfile::tempdir().unwrap();
    let out = dir.path().join("fleet");
    synth("5", "0", &out);
    let all = files(&out);
    let records = text(
        Path::new("x.gz"),
        &all[Path::new("uplands/records-2021.jsonl.gz")],
    );
    let mut seen = 0;
    for line in records.lines() {
        let record: serde_json::Value = serde_json::from_str(line).unwrap();
        if let Some(number) = record["unit"]["vin"].as_str() {
            assert_eq!(vin::check_digit(number), number.chars().nth(8), "{number}");
            assert!(
                number.starts_with('0'),
                "region code 0 belongs to no maker: {number}"
            );
            seen += 1;
        }
    }
    assert!(seen > 20, "{seen}");
    let mappings: Vec<String> = all
        .iter()
        .filter(|(name, _)| name.to_str().is_some_and(|n| n.ends_with(".mapping.toml")))
        .map(|(_, bytes)| String::from_utf8(bytes.clone()).unwrap())
        .collect();
    assert_eq!(mappings.len(), 13);
    for mapping in &mappings {
        for customer in [
            "Rufnummer",
            "Phone",
            "phone",
            "= \"Kunde\"",
            "= \"Customer\"",
        ] {
            assert!(!mapping.contains(customer), "{customer} is mapped");
        }
    }
    Families::load(out.join("families.toml")).unwrap();
}

/// The truth adds up: rates times observed distance are the expected events, and events are near them.
#[test]
fn the_truth_adds_up() {
    let dir = tempfile::tempdir().unwrap();
    let out = dir.path().join("fleet");
    let path = out.to_str().unwrap();
    boretally(&["synth", "--vehicles", "3000", "--seed", "9", "--out", path]).success();
    let read = |name: &str| -> Vec<Vec<String>> {
        let text = std::fs::read_to_string(out.join("truth").join(name)).unwrap();
        text.lines()
            .skip(1)
            .map(|l| l.split(',').map(str::to_string).collect())
            .collect()
    };
    let (rates, events) = (read("rates.csv"), read("events.csv"));
    assert_eq!(rates.len(), events.len());
    let number = |text: &String| text.parse::<f64>().unwrap();
    let (mut expected, mut confirmed) = (0.0, 0.0);
    for (rate, event) in rates.iter().zip(&events) {
        assert_eq!(rate[..5], event[..5]);
        let own = number(&rate[6]) * number(&event[5]) / 1e8;
        assert!(
            (own - number(&event[10])).abs() <= 1e-5 * own.max(1.0),
            "{rate:?} {event:?}"
        );
        expected += own;
        confirmed += number(&event[8]);
    }
    // A Poisson count is within 4 standard errors of its expectation.
    assert!(
        (confirmed - expected).abs() < 4.0 * expected.sqrt(),
        "{confirmed} {expected}"
    );
}

#[test]
fn wrong_requests_are_told_and_nothing_is_destroyed() {
    let dir = tempfile::tempdir().unwrap();
    let full = dir.path().join("full");
    std::fs::create_dir(&full).unwrap();
    std::fs::write(full.join("keep.txt"), "keep").unwrap();
    let full_path = full.to_str().unwrap();
    let told = |arguments: &[&str], code: i32, says: &str| {
        let output = boretally(arguments).code(code).get_output().stderr.clone();
        let output = String::from_utf8(output).unwrap();
        assert!(output.contains(says), "{output}");
    };
    told(
        &["synth", "--vehicles", "5", "--out", full_path],
        1,
        "not empty",
    );
    assert_eq!(
        std::fs::read_to_string(full.join("keep.txt")).unwrap(),
        "keep"
    );
    let new = dir.path().join("new");
    let new = new.to_str().unwrap();
    told(
        &["synth", "--vehicles", "5", "--mess", "0.9", "--out", new],
        2,
        "--mess",
    );
    told(
        &["synth", "--vehicles", "5", "--sites", "0", "--out", new],
        2,
        "--sites",
    );
    told(
        &[
            "synth",
            "--vehicles",
            "5",
            "--from",
            "1.1.2020",
            "--out",
            new,
        ],
        2,
        "--from",
    );
    told(
        &["synth", "--vehicles", "5", "--years", "0", "--out", new],
        2,
        "--years",
    );
    told(
        &[
            "synth",
            "--vehicles",
            "5",
            "--scenario",
            "nowhere.toml",
            "--out",
            new,
        ],
        1,
        "nowhere",
    );
    told(
        &[
            "synth",
            "--vehicles",
            "5",
            "--from",
            "1980-01-01",
            "--out",
            new,
        ],
        1,
        "model years",
    );
    assert!(!Path::new(new).exists());
}

/// The mapping files fit the exports: ingest takes every record of a clean fleet, and of a messy one accounts for each.
#[test]
fn ingest_reads_what_was_written() {
    let dir = tempfile::tempdir().unwrap();
    let account = |mess: &str| -> serde_json::Value {
        let out = dir.path().join(format!("fleet-{mess}"));
        synth("6", mess, &out);
        let store = dir.path().join(format!("store-{mess}"));
        let arguments = [
            "ingest",
            out.to_str().unwrap(),
            "--store",
            store.to_str().unwrap(),
            "--format",
            "json",
        ];
        let output = boretally(&arguments).get_output().stdout.clone();
        serde_json::from_slice(&output).unwrap()
    };
    let count = |account: &serde_json::Value, what: &str| account["totals"][what].as_u64().unwrap();
    let clean = account("0");
    assert_eq!(
        (count(&clean, "failed"), count(&clean, "quarantined")),
        (0, 0),
        "{clean:#}"
    );
    assert!(count(&clean, "kept") > 1_000 && count(&clean, "duplicate") > 0);
    let messy = account("0.1");
    assert_eq!(count(&messy, "failed"), 0);
    let parts = ["kept", "flagged", "duplicate", "quarantined"].map(|what| count(&messy, what));
    assert_eq!(parts.iter().sum::<u64>(), count(&messy, "read"));
    assert!(parts[3] > 50, "{messy:#}");
}
