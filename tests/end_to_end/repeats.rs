//! `repeats` on a shop small enough to follow every vehicle by hand.
//!
//! alder-4, on the engine's clock in thousand km: R1 is watched over 10-100 and fails on cylinder 2 at 30 (head repaired, 1000 EUR;
//! back at 30.5 after 9 days, head repaired without charge) and at 60 (head repaired, 2000 EUR); R2 over 20-80, cylinder 1 at 50 (coil,
//! 100 EUR); R3 over 10-90, no failure; R4 over 40-70, cylinder 4 at 55 (declined). birch-6: R5 over 10-50, cylinder 5 at 20 (coil, USD).

use std::path::Path;
use std::sync::OnceLock;

use serde_json::Value as Json;

use crate::shop::{self, FAMILIES};

const VISITS: &str = "\
Order,Unit,Date,Km,Engine
1,R1,2021-01-10,10000,ALDER 1.6
2,R1,2023-01-10,100000,ALDER 1.6
3,R2,2021-02-10,20000,ALDER 1.6
4,R2,2023-02-10,80000,ALDER 1.6
5,R3,2021-03-10,10000,ALDER 1.6
6,R3,2023-03-10,90000,ALDER 1.6
7,R4,2021-04-10,40000,ALDER 1.6
8,R4,2023-04-10,70000,ALDER 1.6
9,R5,2021-05-10,10000,BIRCH V6
10,R5,2023-05-10,50000,BIRCH V6
";

const CASES: &str = "\
Order,Unit,Opened,Km,Engine,Cause,Cyl,Repair,Net,Money
21,R1,2021-06-01,30000,ALDER 1.6,exhaust_valve_leak,2,head_repair,1000,EUR
22,R1,2021-06-10,30500,ALDER 1.6,exhaust_valve_leak,2,head_repair,0,EUR
23,R1,2022-03-01,60000,ALDER 1.6,exhaust_valve_leak,2,head_repair,2000,EUR
24,R2,2022-02-01,50000,ALDER 1.6,ignition_coil,1,coil_replace,100,EUR
25,R4,2022-05-01,55000,ALDER 1.6,exhaust_valve_leak,4,repair_declined,,
26,R5,2021-11-01,20000,BIRCH V6,ignition_coil,5,coil_replace,120,USD
";

const MAPPING: &str = r#"source = "desk"
files = ["visits.csv"]
[format]
kind = "delimited"
[defaults]
site = "Larkmouth"
distance_unit = "km"
[[table]]
into = "visits"
[table.columns]
record = "Order"
vehicle = { column = "Unit", kind = "unit" }
date = "Date"
odometer = "Km"
engine = "Engine"
"#;

const CASES_MAPPING: &str = r#"source = "desk"
files = ["cases.csv"]
[format]
kind = "delimited"
decimal = "."
[defaults]
site = "Larkmouth"
distance_unit = "km"
price_year = "2022"
[[table]]
into = "cases"
[table.columns]
record = "Order"
case_id = "Order"
vehicle = { column = "Unit", kind = "unit" }
opened = "Opened"
closed = "Opened"
odometer = "Km"
engine = "Engine"
outcome = { value = "confirmed" }
[[table]]
into = "findings"
[table.columns]
record = "Order"
case_id = "Order"
cause = "Cause"
cylinder = "Cyl"
repair = "Repair"
confirmation = { value = "2" }
cost = "Net"
currency = "Money"
"#;

/// The folder with the shop's store, `records`, made once.
pub fn repeating_shop() -> &'static Path {
    static SHOP: OnceLock<tempfile::TempDir> = OnceLock::new();
    SHOP.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let exports = folder.path().join("exports");
        std::fs::create_dir(&exports).expect("made");
        for (name, text) in [
            ("visits.csv", VISITS),
            ("visits.mapping.toml", MAPPING),
            ("cases.csv", CASES),
            ("cases.mapping.toml", CASES_MAPPING),
            ("families.toml", FAMILIES),
        ] {
            std::fs::write(exports.join(name), text).expect("written");
        }
        shop::run(
            folder.path(),
            &[
                "ingest",
                "exports",
                "--store",
                "records",
                "--as-of",
                "2024-06-30",
            ],
        )
        .done();
        folder
    })
    .path()
}

/// The question whose answer has every part that an answer can have.
pub const ALDER: &str =
    "repeats --store records --family alder-4 --exposure last-sighting --format json";

fn asked(line: &str) -> Json {
    let arguments: Vec<&str> = line.split(' ').collect();
    shop::run(repeating_shop(), &arguments).json()
}

fn number(value: &Json) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

fn near(value: &Json, wanted: f64) {
    assert!(
        (number(value) - wanted).abs() <= 1e-12 * wanted.abs(),
        "{value} {wanted}"
    );
}

#[test]
fn means_and_their_variance_are_those_followed_by_hand() {
    let answer = asked(ALDER);
    let group = &answer["groups"][0];
    assert_eq!(group["evidence"]["events"], 4);
    assert_eq!(group["evidence"]["vehicles"], 4);
    assert_eq!(group["evidence"]["exposure_m"], 260_000_000);
    let curve = group["curve"].as_array().unwrap();
    let at_risk: Vec<i64> = curve
        .iter()
        .map(|p| p["at_risk"].as_i64().unwrap())
        .collect();
    assert_eq!(at_risk, [3, 4, 4, 4]);
    // 1/3 + 3/4.
    let last = &curve[3]["mean"];
    near(&last["value"], 13.0 / 12.0);
    // Deviations of R1 to R4 at the end: 41, -7, -43 and 9 of 144; squared and summed 3660 / 20736.
    let error = (3660.0f64 / 20736.0).sqrt();
    near(
        &last["upper"],
        13.0 / 12.0 * (1.959963984540054 * error * 12.0 / 13.0).exp(),
    );
    let watched = group["at_risk"].as_array().unwrap();
    let at = |km: i64| {
        watched
            .iter()
            .find(|a| a["distance_m"] == km * 1000)
            .unwrap()["vehicles"]
            .clone()
    };
    assert_eq!(
        (at(10_000), at(20_000), at(80_000), at(90_000)),
        (0.into(), 2.into(), 3.into(), 2.into())
    );
}

#[test]
fn costs_are_of_one_money_and_what_is_left_out_is_counted() {
    let answer = asked(ALDER);
    let cost = &answer["groups"][0]["cost"];
    assert_eq!(
        (&cost["currency"], &cost["price_year"]),
        (&"EUR".into(), &2022.into())
    );
    let counts =
        ["priced", "other_money", "free", "declined", "unknown"].map(|c| cost[c].as_u64().unwrap());
    assert_eq!(counts, [3, 0, 0, 1, 0]);
    let last = cost["at"].as_array().unwrap().last().unwrap();
    near(
        &last["mean"]["value"],
        1000.0 / 3.0 + 100.0 / 4.0 + 2000.0 / 4.0,
    );
    near(&cost["a_repair"], 3100.0 / 3.0);
    // All families: the repair in USD is taken to cost as much as the mean of those in EUR of its group, where there is one.
    let all =
        asked("repeats --store records --currency usd --exposure last-sighting --format json");
    let cost = &all["groups"][0]["cost"];
    assert_eq!(
        (cost["priced"].as_u64(), cost["other_money"].as_u64()),
        (Some(1), Some(3))
    );
    near(&cost["weight"], 4.0);
}

#[test]
fn comebacks_and_failures_after_a_head_repair() {
    let answer = asked(ALDER);
    let rows = answer["comebacks"].as_array().unwrap();
    let row = |repair: &str| rows.iter().find(|r| r["repair"] == repair).unwrap();
    let head = row("head_repair");
    assert_eq!(
        (&head["repairs"], &head["came_back"]),
        (&3.into(), &1.into())
    );
    // R 4.2: prop.test(1, 3, correct = FALSE)$conf.int.
    assert!((number(&head["share"]["lower"]) - 0.0614919447203963).abs() < 1e-12);
    assert!((number(&head["share"]["upper"]) - 0.7923403991979523).abs() < 1e-12);
    assert_eq!(row("coil_replace")["came_back"], 0);
    assert!(
        rows.iter().all(|r| r["repair"] != "repair_declined"),
        "nothing was repaired"
    );

    // R1 after 30.5 and up to 60, and after 60 and up to 100, with one failure; before any failure R1 20, R2 30, R3 80, R4 15.
    let any = &answer["second_failures"][0];
    assert_eq!(any["what"], "any_cylinder");
    assert_eq!(
        (&any["repairs"], &any["after_events"], &any["after_m"]),
        (&2.into(), &1.into(), &69_500_000.into())
    );
    assert_eq!(
        (&any["first_events"], &any["first_m"]),
        (&3.into(), &145_000_000.into())
    );
    // Only below 80 thousand km did anything fail: R 4.2, poisson.test(c(1, 3), c(49.5, 135)).
    near(&any["ratio"]["value"], (1.0 / 49.5) / (3.0 / 135.0));
    assert!((number(&any["ratio"]["lower"]) - 0.0173168871982565).abs() < 1e-10);
    assert!((number(&any["ratio"]["upper"]) - 11.322_111_207_922_985).abs() < 1e-8);
    // Cylinders: four times the distance of the engines, less what R1's, R2's and R4's failed cylinders drove after they had failed.
    let same = &answer["second_failures"][1];
    assert_eq!(
        same["first_m"],
        (4 * 260_000 - 70_000 - 30_000 - 15_000) * 1000i64
    );
}

#[test]
fn one_vehicle_no_repair_and_what_cannot_be_split() {
    // The only vehicle of its family: every limit is its mean, since nobody else could differ.
    let alone =
        asked("repeats --store records --family birch-6 --exposure last-sighting --format json");
    let point = &alone["groups"][0]["curve"][0];
    assert_eq!(point["at_risk"], 1);
    near(&point["mean"]["value"], 1.0);
    near(&point["mean"]["lower"], 1.0);
    let run = |line: &str| shop::run(repeating_shop(), &line.split(' ').collect::<Vec<_>>());
    let none = run("repeats --store records --cause valve_spring");
    assert_eq!(none.code, Some(1), "{}", none.err);
    assert!(none.err.contains("no repair"), "{}", none.err);
    let wrong = run("repeats --store records --by band");
    assert_eq!(wrong.code, Some(2), "{}", wrong.err);
    let money = run("repeats --store records --currency XXQ");
    assert_eq!(money.code, Some(2), "{}", money.err);
    // A period shows a part of lives only, and says so.
    let part = asked(
        "repeats --store records --family alder-4 --from 2021-06-05 --exposure last-sighting --format json",
    );
    assert!(part["second_failures"].as_array().unwrap().is_empty());
    let ids: Vec<&str> = part["caveats"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["id"].as_str().unwrap())
        .collect();
    assert!(
        ids.contains(&"whole-lives") && ids.contains(&"calendar"),
        "{ids:?}"
    );
    assert_eq!(part["groups"][0]["evidence"]["events"], 3);
}

#[test]
fn by_cause_every_cause_shares_the_vehicles() {
    let answer = asked(
        "repeats --store records --family alder-4 --by cause --exposure last-sighting --format json",
    );
    let groups = answer["groups"].as_array().unwrap();
    let means: Vec<(String, f64)> = groups
        .iter()
        .map(|g| {
            let last = g["curve"].as_array().unwrap().last().unwrap();
            (
                g["key"]["cause"].as_str().unwrap().to_owned(),
                number(&last["mean"]["value"]),
            )
        })
        .collect();
    assert_eq!(means.len(), 2);
    assert_eq!(means[0].0, "exhaust_valve_leak");
    assert!((means[0].1 - (1.0 / 3.0 + 2.0 / 4.0)).abs() < 1e-12);
    assert!((means[1].1 - 0.25).abs() < 1e-12);
    assert!(answer["differences"].as_array().unwrap().is_empty());
}
