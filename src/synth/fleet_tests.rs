use super::*;
use crate::domain::day::Day;
use crate::synth::record::Owner;

fn fleet(seed: u64, vehicles: u64) -> Vec<VehicleLife> {
    simulate(&Scenario::embedded().unwrap(), seed, vehicles)
        .unwrap()
        .collect()
}

/// Band-wise metres of a stretch.
fn split(scenario: &Scenario, (from, to): (i64, i64)) -> Vec<f64> {
    let edges: Vec<i64> = scenario.band_edges_km.iter().map(|e| e * 1000).collect();
    (0..edges.len())
        .map(|b| {
            let end = edges.get(b + 1).copied().unwrap_or(i64::MAX);
            (to.min(end) - from.max(edges[b])).max(0) as f64
        })
        .collect()
}

#[test]
fn a_larger_fleet_begins_with_the_smaller_one() {
    let small = fleet(3, 20);
    let large = fleet(3, 60);
    assert_eq!(small[..], large[..20]);
    assert_ne!(small[..], fleet(4, 20)[..]);
}

#[test]
fn records_are_in_order_and_inside_the_period() {
    let scenario = Scenario::embedded().unwrap();
    let (first, last) = Model::new(&scenario).unwrap().days;
    for life in fleet(1, 400) {
        let mut seen: Vec<(Day, i64)> = life.visits.iter().map(|v| (v.day, v.odometer_m)).collect();
        seen.extend(life.cases.iter().map(|c| (c.opened, c.odometer_m)));
        assert!(!seen.is_empty(), "vehicle {} was never seen", life.index);
        assert!(
            seen.iter()
                .all(|(d, m)| d.0 >= first && d.0 <= last && *m >= 0),
            "{life:?}"
        );
        seen.sort();
        assert!(
            seen.windows(2)
                .all(|w| w[0].1 <= w[1].1 || w[0].0 == w[1].0),
            "{life:?}"
        );
        assert!(life.cases.windows(2).all(|w| w[0].opened <= w[1].opened));
        assert!(
            life.cases
                .iter()
                .all(|c| c.closed >= c.opened && c.closed.0 <= last)
        );
        let walk_ins = life.cases.iter().filter(|c| c.walk_in).count();
        assert!(walk_ins <= 1);
        assert!(life.observed.iter().all(|(a, b)| a <= b));
    }
}

/// Events of known vehicles, walk-ins, and the events that the hazards put into the observed distance.
fn events(scenario: &Scenario, seed: u64, vehicles: u64) -> (f64, f64, f64) {
    let hazards: Vec<Vec<f64>> = scenario
        .families
        .iter()
        .map(|f| {
            let of_band = |b| -> f64 {
                let causes = scenario.causes.iter();
                causes
                    .map(|c| {
                        (0..=f.cylinders)
                            .map(|k| scenario.hazard(f, c, k, b))
                            .sum::<f64>()
                    })
                    .sum()
            };
            (0..scenario.bands()).map(of_band).collect()
        })
        .collect();
    let (mut known, mut walk_ins, mut expected) = (0.0, 0.0, 0.0);
    for life in simulate(scenario, seed, vehicles).unwrap() {
        for stretch in &life.observed {
            for (rate, metres) in hazards[life.family].iter().zip(split(scenario, *stretch)) {
                expected += rate * metres / 1e8 * scenario.handling.seen;
            }
        }
        for case in life
            .cases
            .iter()
            .filter(|c| c.failure.is_some() && c.comeback_of.is_none())
        {
            if case.walk_in {
                walk_ins += 1.0
            } else {
                known += 1.0
            }
        }
    }
    (known, walk_ins, expected)
}

/// The estimator of the tool on the truth: events of vehicles already known over observed distance, all causes together,
/// must agree with the hazards that were put in; counting walk-ins too must not.
#[test]
fn events_over_observed_distance_recover_the_hazard_and_walk_ins_would_spoil_it() {
    let scenario = Scenario::embedded().unwrap();
    let (known, walk_ins, expected) = events(&scenario, 11, 12_000);
    // Standard error of a ratio to a Poisson expectation.
    let error = 1.0 / expected.sqrt();
    let ratio = known / expected;
    assert!((ratio - 1.0).abs() < 3.5 * error, "{ratio} +- {error}");
    let naive = (known + walk_ins) / expected;
    assert!(
        naive - 1.0 > 4.0 * error,
        "walk-ins must be enough to matter: {naive} +- {error}"
    );
}

#[test]
fn without_statements_observation_ends_with_failures_and_the_rate_is_too_high() {
    let ratio = |statements: f64| {
        let mut scenario = Scenario::embedded().unwrap();
        scenario.behaviour.yearly_statement = statements;
        scenario.behaviour.fleet_share = 0.0;
        scenario.behaviour.service_days[0] = 400.0;
        let (known, _, expected) = events(&scenario, 12, 6000);
        (known / expected, 1.0 / expected.sqrt())
    };
    let ((with, error), (without, _)) = (ratio(1.0), ratio(0.0));
    assert!((with - 1.0).abs() < 3.5 * error, "{with} +- {error}");
    assert!(without > with + 0.05, "{with} {without}");
}

/// Each test shows a cause as often as the catalog's matrix says, whatever the severities do.
#[test]
fn readings_keep_the_shares_of_the_matrix() {
    use crate::synth::record::TestResult;
    let scenario = Scenario::embedded().unwrap();
    let model = Model::new(&scenario).unwrap();
    let coil = scenario
        .causes
        .iter()
        .position(|c| c.id == "ignition_coil")
        .unwrap();
    let swap = model
        .knowledge
        .test_ids()
        .position(|t| t == "coil_swap")
        .unwrap();
    let (mut done, mut abnormal) = (0u32, 0u32);
    for life in simulate(&scenario, 5, 6000).unwrap() {
        for case in life
            .cases
            .iter()
            .filter(|c| c.failure.is_some_and(|f| f.cause == coil))
        {
            for step in case.steps.iter().filter(|s| s.test == swap) {
                let result = step.readings[0].result;
                if result != TestResult::Inconclusive {
                    done += 1;
                    abnormal += u32::from(result == TestResult::Abnormal);
                }
            }
        }
    }
    let (n, p) = (f64::from(done), f64::from(abnormal) / f64::from(done));
    let truth = model.knowledge.p_abnormal(coil, swap);
    assert!(
        (p - truth).abs() < 3.5 * (truth * (1.0 - truth) / n).sqrt(),
        "{p} of {n}, {truth}"
    );
}

#[test]
fn fleet_units_belong_to_depots() {
    let scenario = Scenario::embedded().unwrap();
    let lives = fleet(1, 500);
    let fleet = lives.iter().filter(|l| l.owner == Owner::Fleet).count();
    assert!((85..=170).contains(&fleet), "{fleet}");
    for life in lives {
        let depot = scenario.sites[life.home].habit == crate::synth::scenario::Habit::FleetPolls;
        assert_eq!(depot, life.owner == Owner::Fleet);
    }
}
