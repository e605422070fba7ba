//! The solver against the slow, obvious way: the cost of every policy tree, one after the other.

use boretally::stats::test_order::{
    Class, Course, Effort, Outcome, Patience, Position, Problem, Repair, Rule, Solution, Stopping,
    Test, evaluate, evaluate_by_cause, information,
};
use proptest::prelude::*;

/// A small problem, told so that the twin can work from it without the solver's own layout.
#[derive(Debug, Clone)]
struct Small {
    /// Weight of each class; class `i` belongs to cause `i / 2`.
    weights: Vec<f64>,
    tests: Vec<Test>,
    set_ups: Vec<f64>,
    repairs: Vec<Repair>,
    unproven: f64,
}

/// Two to three causes at two severities; two to three tests of two or three outcomes, sharing two set-ups; the second may
/// wait for an outcome of the first.
fn small() -> impl Strategy<Value = Small> {
    let causes = 2usize..4;
    (causes, 2usize..4).prop_flat_map(|(causes, tests)| {
        let classes = 2 * causes;
        let one = (
            0.0f64..40.0,
            prop::collection::vec(0usize..2, 0..3),
            prop::collection::vec((0.01f64..1.0, 0.01f64..1.0, 0.0f64..1.0), classes),
            any::<bool>(),
            any::<bool>(),
        );
        (
            prop::collection::vec(0.01f64..1.0, classes),
            prop::collection::vec(one, tests),
            prop::collection::vec(0.0f64..30.0, 2),
            prop::collection::vec((1.0f64..300.0, any::<bool>()), causes),
            0.0f64..200.0,
            any::<bool>(),
        )
            .prop_map(
                |(weights, tests, set_ups, repairs, unproven, waits)| Small {
                    weights,
                    tests: tests
                        .into_iter()
                        .enumerate()
                        .map(|(i, (minutes, set_ups, chances, three, proof))| {
                            let share = |k: usize| {
                                let of = |&(a, b, c): &(f64, f64, f64)| {
                                    let parts = [a, b, if three { c } else { 0.0 }];
                                    parts[k] / parts.iter().sum::<f64>()
                                };
                                chances.iter().map(of).collect::<Vec<f64>>()
                            };
                            let outcome = |k| Outcome {
                                chances: share(k),
                                proof: proof && k > 0,
                            };
                            Test {
                                minutes,
                                set_ups,
                                outcomes: (0..if three { 3 } else { 2 }).map(outcome).collect(),
                                after: (waits && i == 1).then_some((0, 1)),
                            }
                        })
                        .collect(),
                    set_ups,
                    repairs: repairs
                        .into_iter()
                        .map(|(minutes, guarded)| Repair { minutes, guarded })
                        .collect(),
                    unproven,
                },
            )
    })
}

/// What the twin knows of where it stands.
#[derive(Clone)]
struct Seen {
    outcomes: Vec<Option<usize>>,
    paid: Vec<bool>,
    proved: bool,
}

/// Costs of every policy from here on: every way to stop, and every test with every combination of policies after it.
fn every_policy(p: &Small, weights: &[f64], seen: &Seen) -> Vec<f64> {
    let mut costs = orders(p.repairs.len())
        .into_iter()
        .filter_map(|order| repairs_in(p, weights, seen.proved, &order))
        .collect::<Vec<f64>>();
    // Of the ways to stop only the cheapest is kept, or the list would not fit.
    let stop = costs.iter().copied().fold(f64::INFINITY, f64::min);
    costs = vec![stop];
    for (t, test) in p.tests.iter().enumerate() {
        let ready = test
            .after
            .is_none_or(|(first, o)| seen.outcomes[first] == Some(o));
        if seen.outcomes[t].is_some() || !ready {
            continue;
        }
        let mut after = seen.clone();
        let mut price = test.minutes;
        for &s in &test.set_ups {
            if !after.paid[s] {
                price += p.set_ups[s];
                after.paid[s] = true;
            }
        }
        let mut totals = vec![price * weights.iter().sum::<f64>()];
        for (o, outcome) in test.outcomes.iter().enumerate() {
            let mut next = after.clone();
            next.outcomes[t] = Some(o);
            next.proved |= outcome.proof;
            let below: Vec<f64> = weights
                .iter()
                .zip(&outcome.chances)
                .map(|(w, p)| w * p)
                .collect();
            let tails = every_policy(p, &below, &next);
            totals = totals
                .iter()
                .flat_map(|a| tails.iter().map(move |b| a + b))
                .collect();
            // Sums over independent branches: the least of the sums is the sum of the leasts.
            let least = totals.iter().copied().fold(f64::INFINITY, f64::min);
            if totals.len() > 20_000 {
                totals = vec![least];
            }
        }
        costs.extend(totals);
    }
    costs
}

fn orders(n: usize) -> Vec<Vec<usize>> {
    if n == 0 {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for shorter in orders(n - 1) {
        for at in 0..n {
            let mut order = shorter.clone();
            order.insert(at, n - 1);
            all.push(order);
        }
    }
    all
}

/// Wrong repairs of one order; `None` where a guarded repair would come before an unguarded one without proof.
fn repairs_in(p: &Small, weights: &[f64], proved: bool, order: &[usize]) -> Option<f64> {
    let mut spent = 0.0;
    let mut cost = 0.0;
    let mut gate = false;
    for &i in order {
        if p.repairs[i].guarded && !proved && !gate {
            gate = true;
            spent += p.unproven;
        } else if gate && !p.repairs[i].guarded {
            return None;
        }
        cost += (weights[2 * i] + weights[2 * i + 1]) * spent;
        spent += p.repairs[i].minutes;
    }
    Some(cost)
}

fn laid_out(p: &Small) -> Problem {
    let classes: Vec<Class> = p
        .weights
        .iter()
        .enumerate()
        .map(|(i, &weight)| Class {
            cause: i / 2,
            weight,
        })
        .collect();
    let stopping = Stopping::InTurn {
        repairs: p.repairs.clone(),
        unproven: p.unproven,
    };
    Problem::new(&classes, p.repairs.len(), &p.tests, &p.set_ups, stopping).expect("a good problem")
}

/// What a rule costs, without any short cut: minutes times the sum of the weights.
fn slowly(
    problem: &Problem,
    stopping: &Stopping,
    course: &Course,
    rule: &Rule<'_>,
    patience: Patience,
) -> f64 {
    let total: f64 = course.weights.iter().sum();
    if total == 0.0 {
        return 0.0;
    }
    let causes: Vec<f64> = course.causes(problem).iter().map(|p| p * total).collect();
    let stop = stopping.cost(&causes, course.at.proved());
    let certain = causes.iter().filter(|w| **w > 0.0).count() == 1;
    if certain && patience == Patience::ToTheEnd {
        return stop;
    }
    let Some(test) = rule.next(problem, course) else {
        return stop;
    };
    let after = (0..problem.outcomes(test)).map(|o| course.after(problem, test, o));
    let ahead: f64 = after
        .map(|c| slowly(problem, stopping, &c, rule, patience))
        .sum();
    let goes_on = total * course.at.price(problem, test) + ahead;
    match patience {
        Patience::BestMoment => goes_on.min(stop),
        Patience::ToTheEnd => goes_on,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// What a rule costs is the same with and without the short cuts, in all and by cause.
    #[test]
    fn short_cuts_change_no_rule(p in small()) {
        let problem = laid_out(&p);
        let course = Course::start(&problem, Position::start(&problem, &[], |_| true));
        let stopping = Stopping::InTurn { repairs: p.repairs.clone(), unproven: p.unproven };
        let order: Vec<usize> = (0..p.tests.len()).rev().collect();
        let total: f64 = p.weights.iter().sum();
        for rule in [Rule::InformationPerMinute, Rule::CheapestFirst, Rule::InOrder(&order)] {
            for patience in [Patience::BestMoment, Patience::ToTheEnd] {
                let slow = slowly(&problem, &stopping, &course, &rule, patience) / total;
                let fast = evaluate(&problem, &course, &rule, patience);
                prop_assert!((slow - fast).abs() <= 1e-9 * (1.0 + slow), "{rule:?} {patience:?}: {slow} {fast}");
                let by_cause = evaluate_by_cause(&problem, &course, &rule, patience);
                let each = by_cause.iter().zip(course.causes(&problem));
                let sum: f64 = each.filter_map(|(m, p)| Some((*m)? * p)).sum();
                prop_assert!((sum - fast).abs() <= 1e-9 * (1.0 + fast), "{rule:?} {patience:?}: {sum} {fast}");
            }
        }
    }

    /// No test tells more for a minute than the one the rule of most information names.
    #[test]
    fn the_most_information_is_found_without_looking_at_all_tests(p in small()) {
        let problem = laid_out(&p);
        let course = Course::start(&problem, Position::start(&problem, &[], |_| true));
        let worth = |t| information(&problem, &course, t) / course.at.price(&problem, t).max(1e-9);
        let most = course.at.available(&problem).map(worth).fold(0.0, f64::max);
        match Rule::InformationPerMinute.next(&problem, &course) {
            Some(test) => prop_assert!(worth(test) >= most * (1.0 - 1e-12)),
            None => prop_assert!(most <= 1e-12),
        }
    }

    /// The plan found costs what the cheapest of all policies costs, whatever the number of threads, and no rule is cheaper.
    #[test]
    fn the_plan_is_the_cheapest_of_all_policies(p in small(), threads in 1usize..4) {
        let problem = laid_out(&p);
        let course = Course::start(&problem, Position::start(&problem, &[], |_| true));
        let effort = Effort { threads, ..Effort::default() };
        let solution = Solution::find(&problem, &course, effort);
        let seen = Seen {
            outcomes: vec![None; p.tests.len()],
            paid: vec![false; p.set_ups.len()],
            proved: false,
        };
        let total: f64 = p.weights.iter().sum();
        let costs = every_policy(&p, &p.weights, &seen);
        let least = costs.into_iter().fold(f64::INFINITY, f64::min) / total;
        prop_assert!((solution.minutes - least).abs() <= 1e-9 * (1.0 + least), "{} {least}", solution.minutes);
        let plan = solution.plan();
        prop_assert!((plan.minutes - least).abs() <= 1e-9 * (1.0 + least));
        let order: Vec<usize> = (0..p.tests.len()).collect();
        for rule in [Rule::InformationPerMinute, Rule::CheapestFirst, Rule::InOrder(&order)] {
            for patience in [Patience::BestMoment, Patience::ToTheEnd] {
                let minutes = evaluate(&problem, &course, &rule, patience);
                prop_assert!(minutes >= least - 1e-9 * (1.0 + least));
            }
        }
    }

    /// With too little room for all tests the bounds still hold the best plan between them.
    #[test]
    fn a_gap_is_never_smaller_than_told(p in small()) {
        let problem = laid_out(&p);
        let course = Course::start(&problem, Position::start(&problem, &[], |_| true));
        let best = Solution::find(&problem, &course, Effort::default()).minutes;
        let cramped = Solution::find(&problem, &course, Effort { positions: 4, threads: 1, bound: true });
        prop_assert!(!cramped.left_out.is_empty());
        prop_assert!(cramped.lower.is_some_and(|l| l <= best + 1e-9) && best <= cramped.minutes + 1e-9);
    }
}
