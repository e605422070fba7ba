//! `life` through the whole program: open datasets as a shop's export in, survival and fitted lifetimes out.
//!
//! Expected numbers are those of `tests/reference/data/{survival,lifetime}.json` (their origin is told in the README there): R 4.2
//! with survival 3.5 and etm, and Newton steps with 40 digits. One unit of a dataset is one kilometre here, 1000 of the
//! metres the program counts in, so a distance is 1000 times the published one, and the density of a failure a thousandth.

use serde_json::Value as Json;

use super::life_store::{Unit, ask, ingest, life, unit};

const SURVIVAL: &str = include_str!("../reference/data/survival.json");
const LIFETIME: &str = include_str!("../reference/data/lifetime.json");

fn expected(text: &str, path: &str) -> Json {
    let file: Json = serde_json::from_str(text).unwrap();
    let found = file.pointer(path).unwrap_or_else(|| panic!("no {path}"));
    found.clone()
}

fn close(what: &str, found: &Json, wanted: f64, tolerance: f64) {
    let found = found.as_f64().unwrap_or_else(|| panic!("{what}: {found}"));
    assert!(
        (found - wanted).abs() <= tolerance * wanted.abs(),
        "{what}: {found} against {wanted}"
    );
}

/// The rows of a dataset, by column name.
fn rows(text: &str) -> Vec<std::collections::BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader.deserialize().map(Result::unwrap).collect()
}

const CAUSE: &str = "exhaust_valve_leak";

fn channing(sex: &str) -> Vec<Unit> {
    let text = include_str!("../reference/data/channing_house.csv");
    let of_sex = rows(text).into_iter().filter(|r| r["sex"] == sex);
    let lives = of_sex.map(|r| {
        let number = |name: &str| r[name].parse::<f64>().unwrap();
        let died = (r["death"] == "1").then_some(CAUSE);
        let engine = if sex == "male" { "ash" } else { "elm" };
        Unit {
            engine,
            ..unit(number("entry_months"), number("exit_months"), died)
        }
    });
    lives.collect()
}

/// One answer of every kind, for the check of the contract: two groups with failures enough for everything, one with few.
pub fn answers_of_every_kind() -> Vec<Json> {
    let folder = tempfile::tempdir().unwrap();
    let mut units: Vec<Unit> = (0..60)
        .map(|i| {
            let causes = [CAUSE, "ignition_coil", "spark_plug"];
            let cause = (i % 3 != 0).then_some(causes[i % 2 + i % 5 / 4]);
            let mut life = unit(
                (i % 7) as f64 * 500.0,
                9000.0 + (i * i % 97) as f64 * 900.0,
                cause,
            );
            life.year = 2014 + (i % 2) as i32;
            life
        })
        .collect();
    units.extend((0..12).map(|i| Unit {
        engine: "elm",
        ..unit(
            0.0,
            30_000.0 + f64::from(i) * 1500.0,
            (i % 4 == 1).then_some(CAUSE),
        )
    }));
    // Nobody is at risk before it comes, so that what follows is unknown.
    units.push(Unit {
        engine: "elm",
        ..unit(90_000.0, 95_000.0, None)
    });
    ingest(folder.path(), &units);
    [
        "--compare --band 0,20,40 --ahead 20000km",
        "--by cause,family --compare --strata model-year",
        "--family elm --cause ignition_coil",
    ]
    .map(|options| ask(folder.path(), options))
    .into()
}

fn group(answer: &Json, place: usize) -> &Json {
    &answer["groups"][place]
}

fn list(value: &Json) -> &Vec<Json> {
    value
        .as_array()
        .unwrap_or_else(|| panic!("no list: {value}"))
}

/// A list of numbers of a reference file, a column of the answer's list, and a factor between the two.
fn column(what: &str, found: &Json, field: &str, wanted: &Json, factor: f64, tolerance: f64) {
    let (found, wanted) = (list(found), list(wanted));
    assert_eq!(found.len(), wanted.len(), "{what}");
    for (i, (row, wanted)) in found.iter().zip(wanted).enumerate() {
        let wanted = wanted.as_f64().unwrap() * factor;
        close(
            &format!("{what} {field} {i}"),
            &row[field],
            wanted,
            tolerance,
        );
    }
}

fn share<'a>(group: &'a Json, share: f64, method: &str) -> &'a Json {
    list(&group["shares"])
        .iter()
        .find(|s| s["share"] == share && s["method"] == method)
        .unwrap_or_else(|| panic!("no {share} by {method}"))
}

fn fit<'a>(group: &'a Json, distribution: &str) -> &'a Json {
    list(&group["fits"])
        .iter()
        .find(|f| f["distribution"] == distribution)
        .unwrap_or_else(|| panic!("no {distribution}: {group:#}"))
}

/// Residents of a retirement house, seen from their age at entry on (Klein & Moeschberger 1997, section 1.16): LTR-01, PAR-07.
#[test]
fn channing_house_with_delayed_entry() {
    let folder = tempfile::tempdir().unwrap();
    let mut units = channing("male");
    units.extend(channing("female"));
    ingest(folder.path(), &units);
    let answer = ask(folder.path(), "--compare --from-distance 816km");
    let men = group(&answer, 0);
    assert_eq!(men["lives"], 96);
    assert_eq!(men["never_at_risk"], 1);
    let r = expected(SURVIVAL, "/R/LTR-01/male_from_816");
    let curve = &men["curve"];
    column("S", curve, "distance_m", &r["time"], 1000.0, 0.0);
    column("S", curve, "at_risk", &r["n_risk"], 1.0, 0.0);
    column("S", curve, "survival", &r["surv"], 1.0, 1e-9);
    column("S", curve, "standard_error", &r["se_greenwood"], 1.0, 1e-9);
    column("S", curve, "lower", &r["loglog_lower"], 1.0, 1e-9);
    column("S", curve, "upper", &r["loglog_upper"], 1.0, 1e-9);
    column("H", curve, "cumulative_hazard", &r["cumhaz_na"], 1.0, 1e-9);
    column(
        "H",
        curve,
        "cumulative_hazard_error",
        &r["se_na"],
        1.0,
        1e-9,
    );

    let test = expected(SURVIVAL, "/R/LTR-01/logrank");
    let compared = &answer["comparisons"][0];
    close(
        "chi-square",
        &compared["chi_square"],
        test["chisq"].as_f64().unwrap(),
        1e-9,
    );
    close("p", &compared["p"], test["p"].as_f64().unwrap(), 1e-8);
    let (observed, expected_men) = (&compared["groups"][0]["observed"], &test["exp_male"]);
    assert_eq!(observed.as_f64(), test["obs_male"].as_f64());
    close(
        "expected",
        &compared["groups"][0]["expected"],
        expected_men.as_f64().unwrap(),
        1e-9,
    );

    // The likelihood uses every life whatever the curve is conditional on; the reference agrees to 1e-6.
    weibull(men, &expected(LIFETIME, "/newton/PAR-07/male"), 46.0, 1e-6);
    // Ignoring the entries gives shape 14.2: the answer must be far from it.
    let ignored = expected(LIFETIME, "/newton/PAR-07/male_entry_ignored/beta");
    let shape = fit(men, "weibull")["parameters"][1]["estimate"]["value"].as_f64();
    assert!(shape.unwrap() < 0.5 * ignored.as_f64().unwrap());
}

/// From 0 on, the first two deaths end the curve for ever: nobody else was at risk. That is said, not shown.
#[test]
fn a_risk_set_that_touches_zero_early_moves_the_beginning_of_the_curve() {
    let answer = life(&channing("male"), "");
    let men = group(&answer, 0);
    // Between 781 and 782 months nobody was at risk.
    assert_eq!(men["from_m"], 782_000);
    let told = men["not_identified"].as_str().unwrap();
    assert!(told.contains("2 failures up to 782 km"), "{told}");
    // Conditional on 782 or on 816 months is the same: nobody dies in between.
    let r = expected(SURVIVAL, "/R/LTR-01/male_from_816");
    column("S", &men["curve"], "survival", &r["surv"], 1.0, 1e-9);
    let verdict = answer["verdict"][0].as_str().unwrap();
    assert!(verdict.contains("of those that reach 782 km"), "{verdict}");
}

/// Parameters, log-likelihood and limits of a Weibull fit against the reference.
fn weibull(group: &Json, wanted: &Json, failures: f64, tolerance: f64) {
    let fit = fit(group, "weibull");
    let number = |path: &str| wanted.pointer(path).unwrap().as_f64().unwrap();
    let parameter = |i: usize| &fit["parameters"][i];
    close(
        "eta",
        &parameter(0)["estimate"]["value"],
        1000.0 * number("/eta"),
        tolerance,
    );
    close(
        "se eta",
        &parameter(0)["standard_error"],
        1000.0 * number("/se_eta"),
        tolerance,
    );
    close(
        "beta",
        &parameter(1)["estimate"]["value"],
        number("/beta"),
        tolerance,
    );
    close(
        "se beta",
        &parameter(1)["standard_error"],
        number("/se_beta"),
        tolerance,
    );
    close(
        "Wald",
        &parameter(1)["wald_lower"],
        number("/ci_beta_logwald/0"),
        tolerance,
    );
    close(
        "Wald",
        &parameter(1)["wald_upper"],
        number("/ci_beta_logwald/1"),
        tolerance,
    );
    let log_likelihood = number("/loglik") - failures * 1000f64.ln();
    close("ln L", &fit["log_likelihood"], log_likelihood, tolerance);
    close("AIC", &fit["aic"], 4.0 - 2.0 * log_likelihood, tolerance);
    for (i, name, factor) in [(0, "eta", 1000.0), (1, "beta", 1.0)] {
        let limits = &parameter(i)["estimate"];
        close(
            name,
            &limits["lower"],
            factor * number(&format!("/profile_ci/{name}/0")),
            1e-5,
        );
        close(
            name,
            &limits["upper"],
            factor * number(&format!("/profile_ci/{name}/1")),
            1e-5,
        );
    }
}

/// A distance by which a share has failed, with its likelihood-ratio limits.
fn quantile(group: &Json, wanted: &Json, share_failed: f64, method: &str) {
    let found = &share(group, share_failed, method)["distance"];
    let number = |path: &str| wanted.pointer(path).unwrap().as_f64().unwrap();
    close(
        "t",
        &found["value"],
        1000.0 * number(&format!("/quantile/{share_failed}/t")),
        1e-7,
    );
    let limits = format!("/profile_ci/t_{share_failed}");
    close(
        "LR",
        &found["lower"],
        1000.0 * number(&format!("{limits}/0")),
        1e-5,
    );
    close(
        "LR",
        &found["upper"],
        1000.0 * number(&format!("{limits}/1")),
        1e-5,
    );
}

/// Shock absorbers in two modes (O'Connor 1985; Meeker & Escobar 1998, table C.2): KM-02, CR-01, PAR-01.
#[test]
fn shock_absorbers_with_two_competing_modes() {
    let folder = tempfile::tempdir().unwrap();
    let text = include_str!("../reference/data/shock_absorber.csv");
    let modes = [None, Some(CAUSE), Some("ignition_coil")];
    let lives = rows(text).into_iter().map(|r| {
        let mode: usize = r["mode"].parse().unwrap();
        unit(0.0, r["distance_km"].parse().unwrap(), modes[mode])
    });
    ingest(folder.path(), &lives.collect::<Vec<_>>());
    let answer = ask(folder.path(), "");
    let all = group(&answer, 0);
    let r = expected(SURVIVAL, "/R/KM-02");
    column("S", &all["curve"], "survival", &r["surv"], 1.0, 1e-10);
    column(
        "S",
        &all["curve"],
        "standard_error",
        &r["se_greenwood"],
        1.0,
        1e-9,
    );
    let newton = expected(LIFETIME, "/newton/PAR-01");
    weibull(all, &newton["weibull"], 11.0, 1e-8);
    for share_failed in [0.01, 0.05, 0.1] {
        quantile(all, &newton["weibull"], share_failed, "weibull");
        quantile(all, &newton["lognormal"], share_failed, "lognormal");
    }
    // Beyond the last distance with ten at risk nothing is read off a distribution.
    assert_eq!(all["well_filled_to_m"], 20_150_000);
    let half = share(all, 0.5, "weibull");
    assert_eq!(
        (&half["distance"], &half["at_least_m"].is_number()),
        (&Json::Null, &true)
    );

    let lognormal = fit(all, "lognormal");
    let number = |path: &str| newton.pointer(path).unwrap().as_f64().unwrap();
    let sigma = &lognormal["parameters"][1];
    assert_eq!(sigma["name"], "sigma");
    close(
        "sigma",
        &sigma["estimate"]["value"],
        number("/lognormal/sigma"),
        1e-8,
    );
    close(
        "sigma",
        &sigma["estimate"]["lower"],
        number("/lognormal/profile_ci/sigma/0"),
        1e-5,
    );
    close(
        "sigma",
        &sigma["estimate"]["upper"],
        number("/lognormal/profile_ci/sigma/1"),
        1e-5,
    );
    close(
        "se sigma",
        &sigma["standard_error"],
        number("/lognormal/se_sigma"),
        1e-7,
    );

    let r = expected(SURVIVAL, "/R/CR-01");
    for (i, cause) in [CAUSE, "ignition_coil"].iter().enumerate() {
        let of_cause = list(&all["incidence"])
            .iter()
            .find(|c| c["cause"] == *cause);
        let steps = list(&of_cause.unwrap()["steps"]);
        let times = list(&r["etm_time"]);
        let mut met = 0;
        for (at, time) in times.iter().enumerate() {
            let step = steps
                .iter()
                .find(|s| s["distance_m"].as_f64() == Some(1000.0 * time.as_f64().unwrap()));
            if let Some(step) = step {
                let name = |what: &str| format!("etm_{what}{}", i + 1);
                let wanted = |what: &str| r[name(what)][at].as_f64().unwrap();
                close("F", &step["share"], wanted("cif"), 1e-10);
                close("se", &step["standard_error"], wanted("var").sqrt(), 1e-8);
                met += 1;
            }
        }
        assert_eq!(met, steps.len());
        assert_eq!(met, [7, 4][i]);
    }

    // Each mode by itself: the other one only ends the watching.
    let alone = ask(folder.path(), "--by cause");
    for (i, mode, failures) in [(0, "mode1_weibull", 7.0), (1, "mode2_weibull", 4.0)] {
        // The other mode's failure does not end a vehicle's life here, but nothing is seen of it afterwards.
        weibull(group(&alone, i), &newton[mode], failures, 1e-7);
    }
}

/// Bearing cages, 6 failures among 1703 (Abernethy et al. 1983): PAR-05.
#[test]
fn bearing_cages_with_few_failures() {
    let text = include_str!("../reference/data/bearing_cage.csv");
    let mut units = Vec::new();
    for r in rows(text) {
        let failed = (r["failed"] == "1").then_some(CAUSE);
        let life = unit(0.0, r["hours"].parse().unwrap(), failed);
        units.extend(std::iter::repeat_n(life, r["count"].parse().unwrap()));
    }
    let answer = life(&units, "");
    let cages = group(&answer, 0);
    assert_eq!(
        (&cages["lives"], &cages["evidence"]["events"]),
        (&1703.into(), &6.into())
    );
    let newton = expected(LIFETIME, "/newton/PAR-05/weibull");
    weibull(cages, &newton, 6.0, 1e-7);
    quantile(cages, &newton, 0.01, "weibull");
    // Ten per cent would be at 3903 hours, where nobody has been.
    let tenth = share(cages, 0.1, "weibull");
    assert_eq!(tenth["distance"], Json::Null);
    // Its lower limit, 2094 hours, is beyond the distance that ten cages reached.
    close("no sooner", &tenth["at_least_m"], 1_550_000.0, 1e-12);
    let verdict = answer["verdict"][0].as_str().unwrap();
    assert!(verdict.contains("beyond what was observed"), "{verdict}");
}

/// Fans of diesel generators, 12 of 70 failed (Nelson 1982, p. 133): PAR-02.
#[test]
fn diesel_fans_at_a_constant_rate() {
    let text = include_str!("../reference/data/diesel_fans.csv");
    let lives = rows(text).into_iter().map(|r| {
        let failed = (r["failed"] == "1").then_some(CAUSE);
        unit(0.0, r["hours"].parse().unwrap(), failed)
    });
    let answer = life(&lives.collect::<Vec<_>>(), "");
    let fans = group(&answer, 0);
    let newton = expected(LIFETIME, "/newton/PAR-02");
    weibull(fans, &newton["weibull"], 12.0, 1e-8);
    let constant = fit(fans, "exponential");
    let number = |path: &str| newton.pointer(path).unwrap().as_f64().unwrap();
    let mean = &constant["parameters"][0];
    close(
        "theta",
        &mean["estimate"]["value"],
        1000.0 * number("/exponential/theta"),
        1e-12,
    );
    close(
        "se",
        &mean["standard_error"],
        1000.0 * number("/exponential/se_theta"),
        1e-12,
    );
    let limits = "/exponential/ci_theta_chisq_time_censored";
    close(
        "lower",
        &mean["estimate"]["lower"],
        1000.0 * number(&format!("{limits}/0")),
        1e-9,
    );
    close(
        "upper",
        &mean["estimate"]["upper"],
        1000.0 * number(&format!("{limits}/1")),
        1e-9,
    );
    close(
        "Wald",
        &mean["wald_lower"],
        1000.0 * number("/exponential/ci_theta_logwald/0"),
        1e-9,
    );
    let log_likelihood = number("/exponential/loglik") - 12.0 * 1000f64.ln();
    close("ln L", &constant["log_likelihood"], log_likelihood, 1e-12);
    assert_eq!(fans["evidence"]["exposure_m"], 344_440_000);
}

/// Remission of leukaemia in weeks (Freireich et al. 1963): KM-01, LRT-01.
#[test]
fn freireich_by_group() {
    let text = include_str!("../reference/data/freireich_6mp.csv");
    let lives = rows(text).into_iter().map(|r| {
        let failed = (r["relapse"] == "1").then_some(CAUSE);
        Unit {
            engine: if r["group"] == "placebo" {
                "elm"
            } else {
                "ash"
            },
            ..unit(0.0, r["weeks"].parse().unwrap(), failed)
        }
    });
    let answer = life(&lives.collect::<Vec<_>>(), "--compare");
    let treated = group(&answer, 0);
    let r = expected(SURVIVAL, "/R/KM-01/6-MP");
    let curve = &treated["curve"];
    column("S", curve, "survival", &r["surv"], 1.0, 1e-10);
    column("S", curve, "standard_error", &r["se_greenwood"], 1.0, 1e-9);
    column("H", curve, "cumulative_hazard", &r["cumhaz_na"], 1.0, 1e-10);
    for (i, limits) in list(&r["ci_log-log"]).iter().enumerate() {
        close(
            "lower",
            &curve[i]["lower"],
            limits[0].as_f64().unwrap(),
            1e-9,
        );
        close(
            "upper",
            &curve[i]["upper"],
            limits[1].as_f64().unwrap(),
            1e-9,
        );
    }
    let median = &share(treated, 0.5, "kaplan-meier")["distance"];
    let wanted = list(&r["median_log-log"]);
    close(
        "median",
        &median["value"],
        1000.0 * wanted[0].as_f64().unwrap(),
        1e-12,
    );
    close(
        "median",
        &median["lower"],
        1000.0 * wanted[1].as_f64().unwrap(),
        1e-12,
    );
    assert_eq!((&median["upper"], &wanted[2]), (&Json::Null, &Json::Null));
    let mean = expected(SURVIVAL, "/R/KM-01/rmean_tau35/6-MP");
    close(
        "mean",
        &treated["mean"]["distance"]["value"],
        1000.0 * mean[0].as_f64().unwrap(),
        1e-10,
    );
    close(
        "mean",
        &treated["mean"]["standard_error"],
        1000.0 * mean[1].as_f64().unwrap(),
        1e-9,
    );

    // All of the other group relapsed: 0 is no certainty, and has no limits.
    let placebo = group(&answer, 1);
    let last = list(&placebo["curve"]).last().unwrap();
    assert_eq!(
        (last["survival"].as_f64(), &last["lower"]),
        (Some(0.0), &Json::Null)
    );

    let test = expected(SURVIVAL, "/R/LRT-01");
    let compared = &answer["comparisons"][0];
    close(
        "log-rank",
        &compared["chi_square"],
        test["logrank"]["chisq"].as_f64().unwrap(),
        1e-9,
    );
    close(
        "Peto",
        &compared["p_early"],
        test["peto_peto"]["p"].as_f64().unwrap(),
        1e-8,
    );
}
