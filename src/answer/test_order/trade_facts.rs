//! What any technician would hold against a plan. All of it: common practice, no source.

use super::compute::{Input, answer};
use super::learning::Learnt;
use super::model::{Bay, Seen};
use super::types::TestOrder;
use crate::domain::catalog::Catalog;
use crate::domain::distance::UnitSystem;
use crate::domain::mileage_band::MileageBands;
use crate::stats::test_order::Effort;
use crate::tally::test_order::TestOrderTally;

/// The plan from the catalog alone after some results, each `test` (normal) or `test!` (abnormal) or `test!path`.
fn plan(seen: &[&str]) -> TestOrder {
    let catalog = Catalog::embedded().expect("sound");
    let bands = MileageBands::default_for(UnitSystem::Metric);
    let tally = TestOrderTally::default();
    let seen = seen.iter().map(|text| {
        let (test, path) = text
            .split_once('!')
            .map_or((*text, None), |(t, p)| (t, Some(p)));
        Seen {
            test: test.to_string(),
            abnormal: path.is_some(),
            path: path.filter(|p| !p.is_empty()).map(str::to_string),
        }
    });
    let bay = Bay {
        seen: seen.collect(),
        ..Bay::default()
    };
    let effort = Effort {
        positions: 100_000,
        threads: 1,
        bound: false,
    };
    let learnt = Learnt::new(&catalog, &tally).expect("learnt");
    answer(&Input {
        learnt: &learnt,
        bay,
        bands: &bands,
        complaint: None,
        effort,
    })
    .expect("a plan")
}

fn odds(plan: &TestOrder, cause: &str) -> f64 {
    let line = plan.causes.iter().find(|c| c.cause == cause);
    line.map_or(0.0, |c| c.probability)
}

const SEALING: [&str; 8] = [
    "exhaust_valve_leak",
    "intake_valve_leak",
    "valve_spring",
    "lash_or_lifter",
    "cam_lobe",
    "head_gasket",
    "rings_or_bore",
    "piston_damage",
];

#[test]
fn a_misfire_that_stays_when_coils_are_swapped_clears_the_coil() {
    let (before, after) = (plan(&[]), plan(&["coil_swap"]));
    assert!(odds(&after, "ignition_coil") < odds(&before, "ignition_coil") / 5.0);
    assert_ne!(after.causes[0].cause, "ignition_coil");
    let moved = plan(&["coil_swap!"]);
    assert_eq!(moved.causes[0].cause, "ignition_coil");
}

/// Two cylinders at about 90 and 140 psi: 64 % of the highest, below the usual 75 %, so the low one is called abnormal.
#[test]
fn one_low_cylinder_points_at_sealing_and_asks_where_it_leaks() {
    let (before, after) = (plan(&[]), plan(&["cranking_compression!"]));
    let sum = |p: &TestOrder| SEALING.iter().map(|c| odds(p, c)).sum::<f64>();
    assert!(
        sum(&before) < 0.3 && sum(&after) > 0.6,
        "{} {}",
        sum(&before),
        sum(&after)
    );
    let first = after.first.as_ref().expect("a test is worth it");
    assert_eq!(first.test, "cylinder_leakage");
    // A good reading on all cylinders takes sealing off the list.
    assert!(sum(&plan(&["cranking_compression"])) < sum(&before) / 2.0);
}

#[test]
fn a_leak_heard_at_the_tailpipe_is_the_exhaust_valve() {
    for (path, cause) in [
        ("exhaust", "exhaust_valve_leak"),
        ("intake", "intake_valve_leak"),
        ("crankcase", "rings_or_bore"),
        ("coolant", "head_gasket"),
    ] {
        let leak = format!("cylinder_leakage!{path}");
        let heard = plan(&["cranking_compression!", &leak]);
        assert_eq!(heard.causes[0].cause, cause, "{path}");
    }
}

#[test]
fn resistances_that_agree_do_not_accuse_an_injector() {
    let (before, after) = (plan(&[]), plan(&["injector_resistance"]));
    assert!(odds(&after, "injector_electrical") < odds(&before, "injector_electrical"));
    assert!(odds(&after, "injector_restricted") < 1.1 * odds(&before, "injector_restricted"));
}

/// Whatever the odds: the head stays on until a leak path was heard or damage seen.
#[test]
fn no_head_comes_off_without_proof() {
    fn walk(points: &[super::types::Node], at: usize, proved: bool, heads: &[String]) {
        let node = &points[at];
        if let Some(first) = node.repairs.first() {
            assert!(proved || !heads.contains(first), "{first} without proof");
        }
        let test = node.test.as_deref().unwrap_or_default();
        let proves = ["cylinder_leakage", "borescope"].contains(&test);
        for branch in &node.branches {
            assert!(branch.next > 0);
            walk(
                points,
                branch.next,
                proved || (proves && branch.result != "normal"),
                heads,
            );
        }
    }
    for seen in [&[][..], &["relative_compression!", "cranking_compression!"]] {
        let plan = plan(seen);
        let heads = plan.causes.iter().filter(|c| c.head_off);
        let heads: Vec<String> = heads.map(|c| c.cause.clone()).collect();
        assert_eq!(heads.len(), 6);
        walk(&plan.plan, 0, false, &heads);
    }
}

#[test]
fn a_plan_without_records_says_so_and_beats_the_rules_of_thumb() {
    let plan = plan(&[]);
    assert!(plan.caveats.iter().any(|c| c.id == "no-records"));
    assert!(
        plan.verdict
            .iter()
            .any(|line| line.contains("starting assumption"))
    );
    assert!(plan.cautions.iter().any(|c| c.id == "shop_air"));
    assert!(plan.minutes > 0.0 && plan.first.is_some());
    let total: f64 = plan.causes.iter().map(|c| c.probability).sum();
    assert!((total - 1.0).abs() < 1e-9);
}
