//! Orders of tests against small problems solved elsewhere in exact fractions (by recursion and by listing every policy),
//! forecasts against scores worked out by hand, and Bayes' rule against fractions.

use boretally::stats::forecast_score;
use boretally::stats::test_order::{
    Class, Course, Effort, Outcome, Patience, Plan, Position, Problem, Repair, Rule, Solution,
    Step, Stopping, Test, evaluate, information,
};

use crate::assert_relative;

/// A test that is abnormal with a chance for each cause.
fn test(minutes: f64, abnormal: &[f64], set_ups: &[usize]) -> Test {
    let outcome = |chances: Vec<f64>| Outcome {
        chances,
        proof: false,
    };
    Test {
        minutes,
        set_ups: set_ups.to_vec(),
        outcomes: vec![
            outcome(abnormal.iter().map(|p| 1.0 - p).collect()),
            outcome(abnormal.to_vec()),
        ],
        after: None,
    }
}

fn problem(prior: &[f64], tests: &[Test], set_ups: &[f64], stopping: Stopping) -> Problem {
    let classes: Vec<Class> = prior
        .iter()
        .enumerate()
        .map(|(cause, &weight)| Class { cause, weight })
        .collect();
    Problem::new(&classes, prior.len(), tests, set_ups, stopping).expect("a good problem")
}

/// Losses of repairs where a wrong one costs a penalty and the right one on top.
fn wrong(fix: &[f64], penalty: f64) -> Vec<Vec<f64>> {
    let row = |i: usize| {
        let loss = |j: usize| fix[i] + if i == j { 0.0 } else { penalty + fix[j] };
        (0..fix.len()).map(loss).collect()
    };
    (0..fix.len()).map(row).collect()
}

fn start(problem: &Problem) -> Course {
    Course::start(problem, Position::start(problem, &[], |_| true))
}

fn solve(problem: &Problem) -> (Solution, Plan) {
    let solution = Solution::find(problem, &start(problem), Effort::default());
    let plan = solution.plan().clone();
    assert_relative(
        "the tree costs what was solved",
        plan.minutes,
        solution.minutes,
        1e-12,
    );
    assert_eq!(solution.lower, Some(solution.minutes));
    (solution, plan)
}

fn no_test(problem: &Problem) -> f64 {
    evaluate(
        problem,
        &start(problem),
        &Rule::InOrder(&[]),
        Patience::ToTheEnd,
    )
}

/// Three causes, three noisy tests, a wrong repair costs 300 and the right one on top.
/// Source: own recursion in exact fractions, equal to a listing of all 254 046 policies.
#[test]
fn three_noisy_tests_with_wrong_repairs() {
    let tests = [
        test(20.0, &[0.9, 0.1, 0.2], &[]),
        test(35.0, &[0.1, 0.85, 0.15], &[]),
        test(60.0, &[0.05, 0.1, 0.95], &[]),
    ];
    let losses = wrong(&[120.0, 200.0, 600.0], 300.0);
    let problem = problem(&[0.5, 0.3, 0.2], &tests, &[], Stopping::OneOf(losses));
    let (solution, plan) = solve(&problem);
    assert_relative("optimal", plan.minutes, 14313.0 / 40.0, 1e-13);
    for (t, value) in [357.825, 376.025, 400.6975].into_iter().enumerate() {
        let minutes = solution
            .minutes_with_first(&problem, t)
            .expect("can be run");
        assert_relative("by first test", minutes, value, 1e-13);
    }
    assert_relative("no test", no_test(&problem), 450.0, 1e-13);
    let greedy = Rule::InformationPerMinute;
    let all = evaluate(&problem, &start(&problem), &greedy, Patience::ToTheEnd);
    assert_relative(
        "information per minute, all tests",
        all,
        84547.0 / 200.0,
        1e-13,
    );
    let best = evaluate(&problem, &start(&problem), &greedy, Patience::BestMoment);
    assert!((solution.minutes..=all).contains(&best), "{best}");
}

/// Four causes, a set-up shared by two tests, and a repair that cures everything at a high price.
/// Source: own recursion over states in exact fractions.
#[test]
fn a_shared_set_up_and_a_cure_for_all() {
    let tests = [
        test(15.0, &[0.8, 0.3, 0.1, 0.2], &[]),
        test(30.0, &[0.2, 0.9, 0.6, 0.1], &[0]),
        test(25.0, &[0.05, 0.1, 0.8, 0.9], &[0]),
    ];
    let mut losses = wrong(&[90.0, 150.0, 220.0, 900.0], 350.0);
    losses.push(vec![2500.0; 4]);
    let prior = [0.4, 0.3, 0.2, 0.1];
    let problem = problem(&prior, &tests, &[40.0], Stopping::OneOf(losses));
    let (solution, plan) = solve(&problem);
    assert_relative("optimal", plan.minutes, 42413.0 / 100.0, 1e-13);
    for (t, value) in [424.13, 457.002, 453.09].into_iter().enumerate() {
        let minutes = solution
            .minutes_with_first(&problem, t)
            .expect("can be run");
        assert_relative("by first test", minutes, value, 1e-13);
    }
    let greedy = Rule::InformationPerMinute;
    let all = evaluate(&problem, &start(&problem), &greedy, Patience::ToTheEnd);
    assert_relative(
        "information per minute, all tests",
        all,
        47131.0 / 100.0,
        1e-13,
    );
    assert_relative("no test", no_test(&problem), 479.0, 1e-13);
}

/// Two tests that tell nothing alone and everything together: looking one step ahead sees no gain.
/// Source: own recursion in exact fractions, equal to a listing of all 74 policies.
#[test]
fn tests_that_only_tell_together() {
    let tests = [
        test(10.0, &[1.0, 1.0, 0.0, 0.0], &[]),
        test(10.0, &[1.0, 0.0, 1.0, 0.0], &[]),
    ];
    let losses = vec![vec![0.0, 400.0, 400.0, 0.0], vec![400.0, 0.0, 0.0, 400.0]];
    let problem = problem(&[0.25; 4], &tests, &[], Stopping::OneOf(losses));
    let (_, plan) = solve(&problem);
    assert_relative("optimal", plan.minutes, 20.0, 1e-13);
    assert_relative("no test", no_test(&problem), 200.0, 1e-13);
}

/// A test too dear to be run, and one that costs and tells nothing. Source: listing of all policies in exact fractions.
#[test]
fn stopping_at_once_can_be_best() {
    let losses = || Stopping::OneOf(wrong(&[100.0, 100.0], 200.0));
    let dear = problem(&[0.9, 0.1], &[test(50.0, &[0.9, 0.1], &[])], &[], losses());
    let (solution, plan) = solve(&dear);
    assert!(matches!(plan.step, Step::Stop { .. }));
    assert_relative("too dear", plan.minutes, 130.0, 1e-13);
    let first = solution.minutes_with_first(&dear, 0).expect("can be run");
    assert_relative("with it", first, 180.0, 1e-13);
    let useless = problem(&[0.6, 0.4], &[test(0.0, &[0.5, 0.5], &[])], &[], losses());
    assert_relative("useless", solve(&useless).1.minutes, 220.0, 1e-13);
}

/// One cause, one perfect check for each: probability per cost where the last must be checked too, all permutations where
/// it may be inferred. Source: listing of all permutations in exact fractions (ratio rule: Smith 1956, Mitten 1960).
#[test]
fn perfect_checks_reproduce_probability_per_cost() {
    for (p, c, check_all, inferred) in [
        ([0.5, 0.3, 0.2], [10.0, 3.0, 4.0], 10.8, 5.8),
        ([0.4, 0.4, 0.2], [4.0, 4.0, 2.0], 6.8, 5.2),
        ([0.6, 0.25, 0.15], [60.0, 5.0, 2.0], 42.25, 6.25),
    ] {
        // Checking is repairing in turn: the right one is paid for as well.
        let repairs = |minutes: &[f64]| {
            let repairs = minutes.iter().map(|&minutes| Repair {
                minutes,
                guarded: false,
            });
            Stopping::InTurn {
                repairs: repairs.collect(),
                unproven: 0.0,
            }
        };
        let own: f64 = p.iter().zip(c).map(|(p, c)| p * c).sum();
        let in_turn = problem(&p, &[], &[], repairs(&c));
        assert_relative("check all", no_test(&in_turn) + own, check_all, 1e-13);
        // With wrong repairs out of the question, perfect tests stand in for the checks and the last is inferred.
        let tests: Vec<Test> = (0..3)
            .map(|i| {
                let hits: Vec<f64> = (0..3).map(|j| f64::from(u8::from(i == j))).collect();
                test(c[i], &hits, &[])
            })
            .collect();
        let checked = problem(&p, &tests, &[], repairs(&[1e6; 3]));
        assert_relative("last inferred", solve(&checked).1.minutes, inferred, 1e-12);
    }
}

/// Posterior of three causes after two tests, whatever their order, and the information of one.
/// Source: exact fractions; 0.45252624458903423 bit from the same script. A rare fault (1 %, sensitivity 80 %, false alarms
/// 9.6 %): 25/322. Two positives of a test with sensitivity 0.9 and specificity 0.63 on 25 %: 0.6635536986974686.
#[test]
fn bayes_rule_in_fractions() {
    let rare = problem(
        &[0.01, 0.99],
        &[test(1.0, &[0.8, 0.096], &[])],
        &[],
        Stopping::OneOf(vec![vec![0.0; 2]]),
    );
    assert_relative(
        "rare",
        start(&rare).after(&rare, 0, 1).causes(&rare)[0],
        25.0 / 322.0,
        1e-12,
    );
    let same = test(1.0, &[0.9, 0.37], &[]);
    let twice = problem(
        &[0.25, 0.75],
        &[same.clone(), same],
        &[],
        Stopping::OneOf(vec![vec![0.0; 2]]),
    );
    let once = start(&twice).after(&twice, 0, 1);
    assert_relative("once", once.causes(&twice)[0], 0.44776119402985076, 1e-12);
    let both = once.after(&twice, 1, 1);
    assert_relative("twice", both.causes(&twice)[0], 0.6635536986974686, 1e-12);
    let split = once.after(&twice, 1, 0);
    assert_relative("split", split.causes(&twice)[0], 0.1140250855188141, 1e-12);
    let tests = [
        test(1.0, &[0.9, 0.2, 0.1], &[]),
        test(1.0, &[0.3, 0.8, 0.5], &[]),
    ];
    let p = problem(
        &[0.5, 0.3, 0.2],
        &tests,
        &[],
        Stopping::OneOf(vec![vec![0.0; 3]]),
    );
    let course = start(&p);
    assert_relative(
        "information",
        information(&p, &course, 0),
        0.45252624458903423,
        1e-12,
    );
    let after = course.after(&p, 0, 1);
    for (got, want) in after.causes(&p).into_iter().zip([45.0, 6.0, 2.0]) {
        assert_relative("first positive", got, want / 53.0, 1e-12);
    }
    for both in [
        after.after(&p, 1, 0),
        course.after(&p, 1, 0).after(&p, 0, 1),
    ] {
        for (got, want) in both.causes(&p).into_iter().zip([315.0, 12.0, 10.0]) {
            assert_relative("both", got, want / 337.0, 1e-12);
        }
    }
}

/// 20 and 40 forecasts in two classes, 10 of Brier's table, 4 in three classes.
/// Source: own example in exact fractions; Brier 1950 table 1 (from memory); Spiegelhalter 1986 and Murphy 1973 by formula.
#[test]
fn scores_of_forecasts() {
    let spread = |rows: &[(f64, &[u8])]| -> (Vec<f64>, Vec<bool>) {
        let each = rows
            .iter()
            .flat_map(|(p, ys)| ys.iter().map(move |y| (*p, *y == 1)));
        each.unzip()
    };
    let (p, y) = spread(&[
        (0.1, &[0, 0, 0, 1, 0]),
        (0.3, &[0, 1, 0, 0, 1]),
        (0.6, &[1, 0, 1, 0, 1]),
        (0.9, &[1, 1, 1, 1, 0]),
    ]);
    let s = forecast_score::binary(&p, &y).expect("forecasts");
    assert_relative("brier", s.brier, 83.0 / 400.0, 1e-12);
    assert_relative("log", s.log_score, 0.6145541543382527, 1e-12);
    assert_relative("reliability", s.reliability, 0.0075, 1e-12);
    assert_relative("resolution", s.resolution, 0.05, 1e-12);
    assert_relative("uncertainty", s.uncertainty, 0.25, 1e-12);
    assert_relative(
        "z",
        s.spiegelhalter_z.expect("varies"),
        1.1236664374387366,
        1e-12,
    );
    let (p, y) = spread(&[
        (0.1, &[1, 0, 0, 0, 0, 0, 0, 0, 0, 0]),
        (0.3, &[1, 1, 1, 1, 0, 0, 0, 0, 0, 0]),
        (0.6, &[1, 1, 1, 1, 1, 0, 0, 0, 0, 0]),
        (0.9, &[1, 1, 1, 1, 1, 1, 1, 1, 1, 0]),
    ]);
    let s = forecast_score::binary(&p, &y).expect("forecasts");
    assert_relative("brier", s.brier, 0.1725, 1e-12);
    assert_relative("reliability", s.reliability, 0.005, 1e-12);
    assert_relative("resolution", s.resolution, 0.081875, 1e-12);
    assert_relative("uncertainty", s.uncertainty, 0.249375, 1e-12);
    assert_relative("log", s.log_score, 0.5148295531741459, 1e-12);
    assert_relative(
        "z",
        s.spiegelhalter_z.expect("varies"),
        0.47673129462279623,
        1e-12,
    );
    let p = [0.7, 0.9, 0.8, 0.4, 0.2, 0.0, 0.0, 0.0, 0.0, 0.1];
    let y = [0, 1, 1, 1, 0, 0, 0, 0, 0, 0].map(|y| y == 1);
    assert_relative(
        "half",
        forecast_score::binary(&p, &y).expect("forecasts").brier,
        0.095,
        1e-12,
    );
    let four = [
        vec![0.7, 0.2, 0.1],
        vec![0.1, 0.8, 0.1],
        vec![0.3, 0.3, 0.4],
        vec![0.25, 0.5, 0.25],
    ];
    let s = forecast_score::classes(&four, &[0, 1, 0, 1]).expect("forecasts");
    assert_relative("brier", s.brier, 0.32875, 1e-12);
    assert_relative("log", s.log_score, 0.6192346200347059, 1e-12);
    assert_relative("first", s.first_right, 0.75, 1e-12);
}

/// A part to replace now (300) or to leave (2000 if it is bad), and a test (40, sensitivity 0.9, specificity 0.8): what is best at
/// six chances, and where it changes. Source: own decision tree in Python, its two thresholds in exact fractions, 10/159 and
/// 20/41; the form is that of Pauker & Kassirer 1980 (N Engl J Med 302, 1109; from memory).
#[test]
fn a_test_is_worth_its_minutes_between_two_chances() {
    let at = |bad: f64| {
        let tests = [test(40.0, &[0.9, 0.2], &[])];
        let losses = vec![vec![300.0, 300.0], vec![2000.0, 0.0]];
        problem(&[bad, 1.0 - bad], &tests, &[], Stopping::OneOf(losses))
    };
    for (bad, untested, tested) in [
        (0.02, 40.0, 40.0),
        (0.05, 100.0, 80.49999999999999),
        (0.1, 200.0, 100.99999999999999),
        (0.15, 300.0, 121.49999999999997),
        (0.3, 300.0, 182.99999999999997),
        (0.6, 300.0, 300.0),
    ] {
        let p = at(bad);
        let (solution, plan) = solve(&p);
        assert_relative("untested", no_test(&p), untested, 1e-12);
        let first = solution.minutes_with_first(&p, 0).expect("can be run");
        assert_relative("tested", first, 40.0 + tested, 1e-12);
        assert_relative("best", plan.minutes, untested.min(40.0 + tested), 1e-12);
    }
    for threshold in [10.0 / 159.0, 20.0 / 41.0] {
        let p = at(threshold);
        let (solution, _) = solve(&p);
        let first = solution.minutes_with_first(&p, 0).expect("can be run");
        assert_relative("threshold", first, no_test(&p), 1e-12);
    }
}
