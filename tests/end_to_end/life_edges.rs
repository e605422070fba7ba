//! `life` where little or nothing can be told: no failure, one, all at once, everyone late, nothing watched. No figure may then be
//! infinite or certain, and what is missing must be said.
//!
//! Expected figures are closed forms, worked out beside each.

use serde_json::Value as Json;

use super::life_store::{Unit, ask, ingest, life, unit};
use super::shop::run;

const CAUSE: &str = "head_gasket";

fn number(value: &Json) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("no number: {value}"))
}

fn close(found: &Json, wanted: f64) {
    let found = number(found);
    assert!(
        (found / wanted - 1.0).abs() < 1e-9,
        "{found} against {wanted}"
    );
}

fn verdict(answer: &Json) -> String {
    answer["verdict"].to_string()
}

#[test]
fn no_failure_bounds_the_rate() {
    let units = vec![unit(0.0, 40_000.0, None); 15];
    let answer = life(&units, "--cause head_gasket");
    let group = &answer["groups"][0];
    assert_eq!(group["status"], "no-failure");
    assert_eq!(
        (&group["fits"], &group["curve"]),
        (&serde_json::json!([]), &serde_json::json!([]))
    );
    // 600 000 km: exp(-6 b) = 0.05; two-sided the upper limit leaves 0.025.
    let bound = &group["bound"];
    close(&bound["rate_at_most"], -(0.05f64.ln()) / 6.0);
    close(&bound["rate"]["upper"], -(0.025f64.ln()) / 6.0);
    assert_eq!(number(&bound["rate"]["value"]), 0.0);
    // With a stated shape 2: 15 lives to 40 000 km, exp(-15 (40 / eta)^2) = 0.05; 10 % by eta sqrt(-ln 0.9).
    let shape = |wanted: f64| {
        let shapes = bound["shapes"].as_array().unwrap();
        shapes
            .iter()
            .find(|s| s["shape"] == wanted)
            .unwrap()
            .clone()
    };
    let eta = 40e6 * (15.0 / -(0.05f64.ln())).sqrt();
    close(&shape(2.0)["at_least_m"], eta * (-(0.9f64.ln())).sqrt());
    assert_eq!(shape(2.0)["beyond"], false);
    let curve = &group["milestones"];
    assert!(
        curve
            .as_array()
            .unwrap()
            .iter()
            .all(|m| m["survival"].is_null())
    );
    let told = verdict(&answer);
    assert!(
        told.contains("no case of head gasket leak in 600"),
        "{told}"
    );
    assert!(told.contains("below 0.499 per 100 000 km"), "{told}");
}

#[test]
fn one_failure_gives_a_curve_and_a_bound_but_no_distribution() {
    let mut units = vec![unit(0.0, 50_000.0, None); 19];
    units.push(unit(0.0, 30_000.0, Some(CAUSE)));
    let answer = life(&units, "--shape 3");
    let group = &answer["groups"][0];
    assert_eq!(group["status"], "one-failure");
    close(&group["curve"][0]["survival"], 0.95);
    assert!(
        group["fits"]
            .as_array()
            .unwrap()
            .iter()
            .all(|f| f["distribution"] == "exponential")
    );
    assert_eq!(group["unfitted"].as_array().unwrap().len(), 3);
    let shapes = group["bound"]["shapes"].as_array().unwrap();
    assert_eq!((shapes.len(), number(&shapes[0]["shape"])), (1, 3.0));
    // One failure in 980 000 km; the one-sided bound is chi-square(0.95; 4) / 2 = 4.743864518390588 (R qchisq) over 9.8.
    close(&group["bound"]["rate_at_most"], 4.743864518390588 / 9.8);
}

#[test]
fn all_failed_and_all_at_one_distance() {
    let answer = life(&vec![unit(0.0, 60_000.0, Some(CAUSE)); 12], "");
    let group = &answer["groups"][0];
    let step = &group["curve"][0];
    assert_eq!(
        (number(&step["survival"]), &step["lower"]),
        (0.0, &Json::Null)
    );
    close(&step["cumulative_hazard"], 1.0);
    // Twelve at one distance say nothing about a spread.
    assert_eq!(group["unfitted"].as_array().unwrap().len(), 3);
    let tenth = group["shares"].as_array().unwrap().iter();
    let tenth = tenth
        .clone()
        .find(|s| s["share"] == 0.1 && s["method"] == "kaplan-meier");
    close(&tenth.unwrap()["distance"]["value"], 60e6);
}

#[test]
fn ties_everywhere_are_counted_together() {
    // Ten at risk from 0; at 20: 2 fail and 2 leave; at 40: of 6, 3 fail and 3 leave.
    let mut units = vec![unit(0.0, 20_000.0, Some(CAUSE)); 2];
    units.extend(vec![unit(0.0, 20_000.0, None); 2]);
    units.extend(vec![unit(0.0, 40_000.0, Some(CAUSE)); 3]);
    units.extend(vec![unit(0.0, 40_000.0, None); 3]);
    let answer = life(&units, "");
    let curve = answer["groups"][0]["curve"].as_array().unwrap();
    close(&curve[0]["survival"], 0.8);
    close(&curve[1]["survival"], 0.4);
    assert_eq!(
        (&curve[1]["at_risk"], &curve[1]["left"]),
        (&6.into(), &2.into())
    );
}

#[test]
fn everyone_late_is_told_as_a_condition() {
    let mut units = vec![unit(80_000.0, 120_000.0, None); 14];
    units.extend(vec![unit(90_000.0, 100_000.0, Some(CAUSE)); 3]);
    let answer = life(&units, "");
    let group = &answer["groups"][0];
    assert_eq!(group["from_m"], 80_000_000);
    assert_eq!(group["curve"][0]["at_risk"], 17);
    let told = verdict(&answer);
    assert!(
        told.contains("of those that reach 80\u{202f}000 km without it"),
        "{told}"
    );
    let caveats = answer["caveats"].to_string();
    assert!(caveats.contains("late-entry"), "{caveats}");
}

#[test]
fn failures_without_distance_are_counted_apart() {
    let mut units = vec![unit(0.0, 50_000.0, None); 12];
    // Came in broken; came in broken and was seen later; failed on the second day without having moved.
    let broken = |exit| Unit {
        exit,
        failures: vec![(30_000.0, CAUSE)],
        ..unit(30_000.0, 30_000.0, None)
    };
    units.push(broken(None));
    units.push(broken(Some(45_000.0)));
    // Seen once, healthy.
    units.push(Unit {
        exit: None,
        ..unit(10_000.0, 10_000.0, None)
    });
    let answer = life(&units, "");
    let group = &answer["groups"][0];
    assert_eq!(
        (&group["evidence"]["events"], &group["walk_ins"]),
        (&0.into(), &2.into())
    );
    // The engine that came in broken is not at risk of a first failure afterwards.
    assert_eq!(group["evidence"]["exposure_m"], 12 * 50_000_000i64);
    assert_eq!(group["lives"], 12);
    let caveats = answer["caveats"].to_string();
    assert!(caveats.contains("walk-ins-apart"), "{caveats}");
}

#[test]
fn nothing_watched_is_a_told_problem() {
    let folder = tempfile::tempdir().unwrap();
    let once = Unit {
        exit: None,
        ..unit(10_000.0, 10_000.0, None)
    };
    ingest(folder.path(), &[once.clone(), once]);
    let ran = run(folder.path(), &["life", "--store", "records"]);
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    assert!(ran.err.contains("there is no life to tell"), "{}", ran.err);
    let wrong = [
        ["--ahead", "far"],
        ["--ahead", "-5km"],
        ["--from-distance", "0km"],
        ["--shape", "0"],
        ["--strata", "site"],
        ["--cylinder", "99"],
        ["--by", "band"],
    ];
    for [option, value] in wrong {
        let option = format!("{option}={value}");
        let ran = run(folder.path(), &["life", "--store", "records", &option]);
        assert_eq!(ran.code, Some(2), "{option}: {}", ran.err);
    }
    let line = [
        "life",
        "--store",
        "records",
        "--family",
        "ash",
        "--cylinder",
        "7",
    ];
    let ran = run(folder.path(), &line);
    assert_eq!(ran.code, Some(2), "{}", ran.err);
    assert!(ran.err.contains("ash has cylinders 1 to 4"), "{}", ran.err);
}

/// Where every failure is a first one and ends the watching, first failures by band are the rates by band.
#[test]
fn hazard_by_band_is_the_rate_by_band_when_every_failure_is_a_first() {
    let folder = tempfile::tempdir().unwrap();
    let units: Vec<Unit> = (0..80)
        .map(|i| {
            let entry = f64::from(i % 9) * 11_000.0 + 500.0;
            let exit = entry + 5_000.0 + f64::from(i * i % 83) * 2_100.0;
            unit(entry, exit, (i % 3 != 1).then_some(CAUSE))
        })
        .collect();
    ingest(folder.path(), &units);
    let bands = "--band 0,40,80,120,160";
    let answer = ask(folder.path(), bands);
    let line =
        format!("rates --store records --by band --exposure last-sighting --format json {bands}");
    let rates = run(folder.path(), &line.split(' ').collect::<Vec<_>>()).json();
    let hazard = answer["groups"][0]["hazard"].as_array().unwrap();
    let rows = rates["rows"].as_array().unwrap();
    assert_eq!(hazard.len(), rows.len());
    assert!(hazard.len() >= 4);
    for (band, row) in hazard.iter().zip(rows) {
        assert_eq!(band["exposure_m"], row["evidence"]["exposure_m"]);
        assert_eq!(band["failures"], row["evidence"]["events"]);
        for limit in ["value", "lower", "upper"] {
            close(&band["rate"][limit], number(&row["estimate"][limit]));
            close(
                &band["every_failure"][limit],
                number(&row["estimate"][limit]),
            );
        }
    }
}

/// A second failure of an engine counts in rates, and not here.
#[test]
fn a_second_failure_is_not_a_first() {
    let folder = tempfile::tempdir().unwrap();
    let mut units = vec![unit(0.0, 90_000.0, None); 11];
    units.push(Unit {
        failures: vec![(20_000.0, CAUSE), (60_000.0, CAUSE)],
        ..unit(0.0, 90_000.0, None)
    });
    ingest(folder.path(), &units);
    let first = ask(folder.path(), "");
    assert_eq!(first["groups"][0]["evidence"]["events"], 1);
    assert_eq!(
        first["groups"][0]["evidence"]["exposure_m"],
        (11 * 90 + 20) * 1_000_000i64
    );
    // After the repairs: 40 000 km to the next failure, then 30 000 km without one.
    let repair = ask(folder.path(), "--clock repair");
    let group = &repair["groups"][0];
    assert_eq!(
        (&group["lives"], &group["evidence"]["vehicles"]),
        (&2.into(), &1.into())
    );
    assert_eq!(group["curve"][0]["distance_m"], 40_000_000);
    assert_eq!(group["evidence"]["exposure_m"], 70_000_000);
    // On the odometer the same lives begin where the new engine was fitted.
    let odometer = ask(folder.path(), "--clock odometer");
    assert_eq!(odometer["groups"][0]["from_m"], 1_000_000);
}
