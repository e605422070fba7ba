//! The shop's engines with gauge readings beside them, in psi, bar and kPa, as a shop would send them.
//!
//! Cranking compression of alder-4 (cases of `shop`):
//! - 201, exhaust valve of cylinder 3 measured: 150, 145, 90, 155 psi, and 150 psi on a cylinder 5 that the engine does not have.
//! - 202, exhaust valve of cylinder 3 seen: 10.0, 10.4, 6.0, 10.2 bar; after the repair cylinder 3 reads 10.1 bar.
//! - 203, spark plug of cylinder 1 verified: 1090, 1100, 1120, 1080 kPa.
//! - 206, head gasket of cylinder 2 measured: 900, 500, 880, 910 kPa.
//!
//! birch-6: 205, nothing found: 0 kPa on cylinder 1, -5 kPa on cylinder 2 (no gauge reads that), 900 kPa on 3.

use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use serde_json::Value as Json;

use super::shop::{ingest, run, write_exports};

const TESTS: &str = "\
Order,Step,Test,Cyl,Reading,Unit,Result
201,1,compression,1,150,psi,normal
201,1,compression,2,145,psi,normal
201,1,compression,3,90,psi,abnormal
201,1,compression,4,155,psi,normal
201,1,compression,5,150,psi,normal
202,1,compression,1,10.0,bar,normal
202,1,compression,2,10.4,bar,normal
202,1,compression,3,6.0,bar,abnormal
202,1,compression,4,10.2,bar,normal
202,2,compression,3,10.1,bar,normal
203,1,compression,1,1090,kPa,normal
203,1,compression,2,1100,kPa,normal
203,1,compression,3,1120,kPa,normal
203,1,compression,4,1080,kPa,normal
206,1,compression,1,900,kPa,normal
206,1,compression,2,500,kPa,abnormal
206,1,compression,3,880,kPa,normal
206,1,compression,4,910,kPa,normal
205,1,compression,1,0,kPa,abnormal
205,1,compression,2,-5,kPa,abnormal
205,1,compression,3,900,kPa,normal
";

const TESTS_MAPPING: &str = r#"source = "desk"
files = ["tests.csv"]
[format]
kind = "delimited"
decimal = "."
[export_date]
value = "2024-06-30"
[[table]]
into = "tests"
[table.columns]
record = ["Order", "Step", "Cyl"]
case_id = "Order"
step = "Step"
test = "Test"
cylinder = "Cyl"
reading = { column = "Reading", unit_column = "Unit" }
result = "Result"
"#;

/// Twenty-four more alder-4 of four sessions each way: engine i reads 1000 + 5 i kPa about, the faulty cylinder half of it; on
/// engine 7 the fault does not show, and on engine 9 a healthy cylinder reads like a faulty one.
fn many(visits: &mut String, cases: &mut String, tests: &mut String) {
    for i in 0..24 {
        let (unit, case, base) = (format!("G{i:02}"), 300 + i, 1000 + 5 * i);
        let site = if i % 2 == 0 { "Larkmouth" } else { "Thornby" };
        let faulty = i % 4 + 1;
        for (day, km) in [("2022-01-05", 50_000), ("2023-01-05", 70_000)] {
            let order = format!("{}{i}", &day[3..4]);
            writeln!(
                visits,
                "9{order}{km},{unit},{site},{day},{km},ALDER 1.6,2015"
            )
            .unwrap();
        }
        writeln!(
            cases,
            "{case},{unit},{site},2022-06-15,2022-06-15,60000,ALDER 1.6,2015,P0300,confirmed,exhaust_valve_leak,{faulty},2,8,900"
        )
        .unwrap();
        for cylinder in 1..=4 {
            let reading = match (cylinder == faulty, i) {
                (true, 7) => base,
                (true, _) => base / 2,
                (false, 9) if cylinder == faulty % 4 + 1 => base / 2,
                _ => base + 10 * (cylinder - 2),
            };
            let mut row = |test: &str, reading: i32, unit: &str| {
                writeln!(tests, "{case},1,{test},{cylinder},{reading},{unit},normal").unwrap();
            };
            row("compression", reading, "kPa");
        }
    }
}

fn made(name: &str, large: bool) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    if folder.exists() {
        std::fs::remove_dir_all(&folder).unwrap();
    }
    std::fs::create_dir_all(&folder).unwrap();
    let exports = write_exports(&folder);
    let read = |name: &str| std::fs::read_to_string(exports.join(name)).unwrap();
    let (mut visits, mut cases) = (read("visits.csv"), read("cases.csv"));
    let mut tests = TESTS.to_owned();
    if large {
        many(&mut visits, &mut cases, &mut tests);
    }
    for (name, text) in [
        ("visits.csv", visits.as_str()),
        ("cases.csv", &cases),
        ("tests.csv", &tests),
        ("tests.mapping.toml", TESTS_MAPPING),
    ] {
        std::fs::write(exports.join(name), text).unwrap();
    }
    let account = ingest(&folder);
    // The visit of the 31st of June; the reading below 0 is flagged and left empty.
    assert_eq!(account["totals"]["quarantined"], 1, "{account:#}");
    folder
}

/// The shop with the readings above.
pub fn small() -> &'static Path {
    static SHOP: OnceLock<PathBuf> = OnceLock::new();
    SHOP.get_or_init(|| made("readings-small", false))
}

/// The same with twenty-four engines more.
pub fn large() -> &'static Path {
    static SHOP: OnceLock<PathBuf> = OnceLock::new();
    SHOP.get_or_init(|| made("readings-large", true))
}

/// An answer as JSON.
pub fn asked(folder: &Path, line: &str) -> Json {
    let arguments: Vec<&str> = line.split(' ').chain(["--format", "json"]).collect();
    run(folder, &arguments).json()
}

/// Answers that give every field of the two contracts a value.
pub fn answers() -> Vec<Json> {
    let compression = "--store records --family alder-4 --test cranking_compression";
    vec![
        asked(small(), &format!("readings {compression}")),
        asked(large(), &format!("readings {compression}")),
        asked(
            large(),
            &format!("compare {compression} 1=1000kPa 2=1010kPa 3=500kPa 4=990kPa"),
        ),
        asked(
            small(),
            "compare --test cylinder_leakage 1=8% 2=35%@exhaust 3=7%",
        ),
    ]
}
