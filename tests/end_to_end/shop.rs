//! A shop of two sites and seven vehicles, small enough to count by hand, and the program run on it as a user runs it.
//!
//! Under observation, in metres, to 30 days before the last visit: alder-4 A1 8,000,000 and of the next 12,000,000 in 223 days
//! those of 193, 10,385,650; A2 10,000,000 and 8,445,595 (163 of 193 days); A3 15,000,000 and 12,513,812 (151 of 181): 64,345,057
//! (one failure each: cylinders 3, 3 and 1). Birch-6 B1 15,000,000 and 12,554,347 (154 of 184; one failure, cylinder unknown),
//! B2 13,000,000 and 10,011,049 (151 of 181; a case without a fault found): 50,565,396. An engine that no family matches, C1
//! 13,767,123 (335 of 365).
//! D1 (alder-4) comes once, with a failed head gasket: a walk-in.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use assert_cmd::Command;
use serde_json::Value as Json;

pub const FAMILIES: &str = r#"[[family]]
id = "alder-4"
title = "Alder four"
cylinders = 4
layout = "inline"
firing_order = [1, 3, 4, 2]
match = [{ engine = "ALDER 1.6" }]

[[family]]
id = "birch-6"
title = "Birch six"
cylinders = 6
layout = "vee"
firing_order = [1, 2, 3, 4, 5, 6]
bank_1 = [1, 3, 5]
bank_2 = [2, 4, 6]
match = [{ engine = "BIRCH V6" }]
"#;

pub const VISITS: &str = "\
Order,Unit,Site,Date,Km,Engine,MY
101,A1,Larkmouth,2022-01-10,100000,ALDER 1.6,2015
102,A1,Larkmouth,2023-01-10,120000,ALDER 1.6,2015
103,A2,Larkmouth,2022-02-10,40000,ALDER 1.6,2016
104,A2,Larkmouth,2023-02-10,60000,ALDER 1.6,2016
105,A3,Thornby,2022-03-10,80000,ALDER 1.6,2015
106,A3,Thornby,2023-03-10,110000,ALDER 1.6,2015
107,B1,Thornby,2022-01-15,150000,BIRCH V6,2014
108,B1,Thornby,2023-01-15,180000,BIRCH V6,2014
109,B2,Larkmouth,2022-05-02,20000,BIRCH V6,2018
110,B2,Larkmouth,2023-05-02,45000,BIRCH V6,2018
111,C1,Larkmouth,2022-06-01,90000,OAK 2.0,2013
112,C1,Larkmouth,2023-06-01,105000,OAK 2.0,2013
113,C1,Larkmouth,2023-06-31,105000,OAK 2.0,2013
";

pub const CASES: &str = "\
Order,Unit,Site,Opened,Closed,Km,Engine,MY,Codes,Outcome,Cause,Cyl,Sure,Hours,Net
201,A1,Larkmouth,2022-06-01,2022-06-03,108000,ALDER 1.6,2015,P0303,confirmed,exhaust_valve_leak,3,3,9.5,1420.00
202,A2,Larkmouth,2022-08-01,2022-08-01,50000,ALDER 1.6,2016,P0303 P0300,confirmed,exhaust_valve_leak,3,2,8,1250.50
203,A3,Thornby,2022-09-10,2022-09-10,95000,ALDER 1.6,2015,P0301,confirmed,spark_plug,1,1,0.5,60
204,B1,Thornby,2022-07-15,2022-07-15,165000,BIRCH V6,2014,P0300,confirmed,ignition_coil,,1,0.4,95
205,B2,Larkmouth,2022-11-02,2022-11-02,33000,BIRCH V6,2018,P0300,no_fault_found,,,,,
206,D1,Larkmouth,2022-04-04,2022-04-05,210000,ALDER 1.6,2012,P0302,confirmed,head_gasket,2,3,14,2200
";

pub const VISITS_MAPPING: &str = r#"source = "desk"
files = ["visits*.csv"]
[format]
kind = "delimited"
[export_date]
value = "2024-06-30"
[[table]]
into = "visits"
[table.columns]
record = "Order"
vehicle = { column = "Unit", kind = "unit" }
site = "Site"
date = "Date"
odometer = { column = "Km", unit = "km" }
engine = "Engine"
model_year = "MY"
"#;

pub const CASES_MAPPING: &str = r#"source = "desk"
files = ["cases.csv"]
[format]
kind = "delimited"
[export_date]
value = "2024-06-30"
[defaults]
currency = "EUR"
price_year = "2022"
[[table]]
into = "cases"
[table.columns]
record = "Order"
case_id = "Order"
vehicle = { column = "Unit", kind = "unit" }
site = "Site"
opened = "Opened"
closed = "Closed"
odometer = { column = "Km", unit = "km" }
engine = "Engine"
model_year = "MY"
codes = "Codes"
outcome = "Outcome"
[[table]]
into = "findings"
when = { column = "Cause", not_empty = true }
[table.columns]
record = "Order"
case_id = "Order"
cause = "Cause"
cylinder = "Cyl"
confirmation = "Sure"
labour_hours = "Hours"
cost = "Net"
"#;

/// How a run ended, and what it said.
pub struct Ran {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

impl Ran {
    /// The answer as JSON, after a run that did what was asked.
    pub fn json(&self) -> Json {
        self.done();
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}: {}", self.out))
    }

    /// The text, after a run that did what was asked.
    pub fn done(&self) -> &str {
        assert_eq!(self.code, Some(0), "{}{}", self.out, self.err);
        &self.out
    }
}

/// Runs the program in a folder. No input whatever may make it panic.
pub fn run(folder: &Path, arguments: &[&str]) -> Ran {
    run_with(folder, &[], arguments)
}

/// The same with variables of the environment.
pub fn run_with(folder: &Path, environment: &[(&str, &str)], arguments: &[&str]) -> Ran {
    let mut command = Command::new(env!("CARGO_BIN_EXE_boretally"));
    let output = command
        .current_dir(folder)
        .envs(environment.iter().copied())
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let err = text(&output.stderr);
    assert!(!err.contains("panicked"), "{arguments:?}: {err}");
    Ran {
        code: output.status.code(),
        out: text(&output.stdout),
        err,
    }
}

/// Writes the shop's exports with their mappings into `folder/exports`.
pub fn write_exports(folder: &Path) -> PathBuf {
    let exports = folder.join("exports");
    std::fs::create_dir_all(&exports).unwrap();
    for (name, text) in [
        ("families.toml", FAMILIES),
        ("visits.csv", VISITS),
        ("cases.csv", CASES),
        ("visits.mapping.toml", VISITS_MAPPING),
        ("cases.mapping.toml", CASES_MAPPING),
    ] {
        std::fs::write(exports.join(name), text).unwrap();
    }
    exports
}

/// Ingests the shop into `folder/records`; gives the account.
pub fn ingest(folder: &Path) -> Json {
    run(
        folder,
        &[
            "ingest", "exports", "--store", "records", "--format", "json",
        ],
    )
    .json()
}

/// A folder with the shop's store `records`, made once for all tests that only read it.
pub fn shop() -> &'static Path {
    static SHOP: OnceLock<PathBuf> = OnceLock::new();
    SHOP.get_or_init(|| {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("contract-shop");
        if folder.exists() {
            std::fs::remove_dir_all(&folder).unwrap();
        }
        std::fs::create_dir_all(&folder).unwrap();
        write_exports(&folder);
        ingest(&folder);
        folder
    })
}
