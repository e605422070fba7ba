//! `compare` as a technician meets it, with and without records.

use std::path::Path;

use serde_json::Value as Json;

use super::readings_shop::{asked, large, small};
use super::shop::run;

fn here(line: &str) -> Json {
    asked(Path::new(env!("CARGO_TARGET_TMPDIR")), line)
}

fn findings(answer: &Json) -> Vec<&str> {
    let rows = answer["cylinders"].as_array().unwrap();
    rows.iter()
        .map(|r| r["finding"].as_str().unwrap())
        .collect()
}

/// Common practice, no source: of two cylinders at about 90 and 140 psi the low one is abnormal, and where it leaks is the next
/// question.
#[test]
fn two_cylinders_at_90_and_140_psi() {
    let answer = here("compare --test cranking_compression 1=90psi 2=140psi");
    assert_eq!(findings(&answer), ["abnormal", "in-line"]);
    assert_eq!(answer["next_steps"][0]["test"], "cylinder_leakage");
    assert_eq!(
        (&answer["unit"], &answer["records"]),
        (&"psi".into(), &Json::Null)
    );
    let share = answer["cylinders"][0]["of_highest"].as_f64().unwrap();
    assert!((share - 90.0 / 140.0).abs() < 1e-12);
    let verdict = answer["verdict"].to_string();
    assert!(verdict.contains("ratio alone cannot say"), "{verdict}");
    let caveats = answer["caveats"].to_string();
    // Cautions of both tests: shop air belongs to the leakage test.
    for id in ["no-records", "shop_air", "seized_plugs", "not-a-diagnosis"] {
        assert!(caveats.contains(id), "{id}");
    }
}

/// Common practice, no source: resistances within about an ohm of each other accuse no injector.
#[test]
fn injectors_within_an_ohm_of_each_other() {
    let even = here("compare --test injector_resistance 1=12.1 2=12.9 3=12,4ohm 4=12.6");
    assert_eq!(findings(&even), ["in-line"; 4]);
    assert_eq!(even["practice"]["kept"], true);
    let open = here("compare --test injector_resistance 1=12.1 2=0.48kohm 3=12.4 4=12.6");
    assert_eq!(
        findings(&open),
        ["in-line", "abnormal", "in-line", "in-line"]
    );
    // Two that differ do not say which of them is the odd one.
    let two = here("compare --test injector_resistance 1=12.1 2=480");
    assert_eq!(findings(&two), ["in-line"; 2]);
    assert_eq!(two["practice"]["kept"], false);
    assert!(two["verdict"].to_string().contains("does not say which"));
}

#[test]
fn leak_paths_lead_on() {
    let answer = here("compare --test leakage 1=8% 2=35%@exhaust 3=7 4=9%");
    assert_eq!(
        findings(&answer),
        ["in-line", "abnormal", "in-line", "in-line"]
    );
    let step = answer["next_steps"][0]["text"].as_str().unwrap();
    assert!(
        step.contains("exhaust valve leak") && step.contains("before the head"),
        "{step}"
    );
    let pathless = here("compare --test leakage 1=8% 2=35% 3=7 4=9%");
    assert_eq!(pathless["next_steps"][0]["test"], "cylinder_leakage");
}

#[test]
fn units_and_commas_as_they_are_typed() {
    // 9.65 bar = 965 kPa; 140 psi = 965.27 kPa.
    let mixed = here("compare --test compression 1=620kPa 3=9,65bar 2=140psi");
    let shown: Vec<f64> = mixed["cylinders"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["reading"].as_f64().unwrap().round())
        .collect();
    assert_eq!(
        (&mixed["unit"], shown),
        (&"kPa".into(), vec![620.0, 965.0, 965.0])
    );
    let inferred = here("compare --test compression 1=150 2=128 3=155");
    assert_eq!(inferred["unit"], "psi");
    assert!(inferred["caveats"].to_string().contains("unit-inferred"));
    let dead = here("compare --test compression 1=0psi 2=0psi");
    assert_eq!(dead["all_low"], true);
    assert_eq!(dead["next_steps"][0]["test"], "cam_timing_check");
}

/// 27 engines with healthy cylinders near the others, 26 of 27 faults at half: a cylinder at half is weighed as faulty.
#[test]
fn records_weigh_a_reading() {
    let line = "compare --store records --family alder-4 --test compression 1=1050kPa 2=1040kPa 3=520kPa 4=1045kPa";
    let answer = asked(large(), line);
    assert_eq!(
        findings(&answer),
        ["in-line", "in-line", "abnormal", "in-line"]
    );
    let ratio = |i: usize| &answer["cylinders"][i]["likelihood_ratio"];
    assert!(ratio(2)["lower"].as_f64() > Some(5.0), "{}", ratio(2));
    // Near the others: no fault among the eleven nearest, too few to be sure of more than the direction.
    assert!(ratio(0)["value"].as_f64() < Some(0.2), "{}", ratio(0));
    // One healthy cylinder of 81 stood at half of the others.
    let place = answer["cylinders"][2]["place_against_others"]["value"]
        .as_f64()
        .unwrap();
    assert!((place - 1.0 / 81.0).abs() < 1e-12, "{place}");
    assert_eq!(answer["records"]["engines"], 27);
    let few = asked(small(), line);
    assert_eq!(few["cylinders"][2]["likelihood_ratio"], Json::Null);
    assert!(few["caveats"].to_string().contains("few-records"));
}

#[test]
fn mistakes_tell_their_way_out() {
    for (line, words) in [
        ("compare --test compression 1=90 2=140", "write the unit"),
        (
            "compare --test compression 1=1,034kPa 2=900kPa",
            "1.034 or 1034",
        ),
        (
            "compare --test compression 1=-5psi 2=3psi",
            "cannot be below 0",
        ),
        ("compare --test compression 1=5foo 2=3psi", "use kPa, psi"),
        (
            "compare --test compression 1=5ohm 2=3psi",
            "not read in ohm",
        ),
        ("compare --test compression 1=5psi 1=3psi", "twice"),
        ("compare --test compression 17=5psi", "from 1 to 16"),
        ("compare --test compression five", "CYLINDER=READING"),
        ("compare --test leakage 1=30@nowhere 2=8", "intake"),
        ("compare --test leakage 1=130 2=8", "cannot leak"),
        (
            "compare --test compression 1=5psi@exhaust",
            "only a leakage test",
        ),
        (
            "compare --store records --test compression 1=30kPa",
            "--family",
        ),
        (
            "compare --store records --family alder-4 --test compression 5=30kPa",
            "has 4 cylinders",
        ),
        (
            "compare --store nowhere --family alder-4 --test compression 1=30kPa",
            "nowhere",
        ),
    ] {
        let ran = run(small(), &line.split(' ').collect::<Vec<_>>());
        assert!(
            ran.code != Some(0) && ran.err.contains(words),
            "{line}: {}",
            ran.err
        );
    }
}
