//! Laws of interval methods, walked over the registers: a method without a law fails.
//!
//! An interval proves itself: its limit, put back into what defines it, must give the tail it was asked for. The tails are
//! summed term by term here, apart from the incomplete beta and gamma functions under test.

use boretally::stats::interval::{Interval, normal_deviate, tail};
use boretally::stats::{poisson_rate, proportion};
use proptest::prelude::*;

/// Which limit is put back.
#[derive(Clone, Copy, PartialEq)]
enum End {
    Lower,
    Upper,
}

/// Binomial probabilities of 0..=n by their recurrence, from the largest one outwards, scaled to sum to one.
fn binomial(n: u64, p: f64) -> Vec<f64> {
    let mode = ((n as f64 + 1.0) * p).floor().min(n as f64) as usize;
    let mut weights = vec![0.0; n as usize + 1];
    weights[mode] = 1.0;
    let odds = p / (1.0 - p);
    for k in mode..n as usize {
        weights[k + 1] = weights[k] * (n as usize - k) as f64 / (k + 1) as f64 * odds;
    }
    for k in (0..mode).rev() {
        weights[k] = weights[k + 1] * (k + 1) as f64 / (n as usize - k) as f64 / odds;
    }
    let total: f64 = weights.iter().sum();
    weights.iter().map(|w| w / total).collect()
}

/// Poisson probabilities of 0..=top by their recurrence; `top` is far enough for the rest to vanish.
fn poisson(mean: f64, top: usize) -> Vec<f64> {
    let mode = (mean.floor() as usize).min(top);
    let mut weights = vec![0.0; top + 1];
    weights[mode] = 1.0;
    for k in mode..top {
        weights[k + 1] = weights[k] * mean / (k + 1) as f64;
    }
    for k in (0..mode).rev() {
        weights[k] = weights[k + 1] * (k + 1) as f64 / mean;
    }
    let total: f64 = weights.iter().sum();
    weights.iter().map(|w| w / total).collect()
}

/// The tail that a limit cuts off, with `own` times the observed count's probability.
fn tail_of(pmf: &[f64], x: u64, end: End, own: f64) -> f64 {
    let x = x as usize;
    let beyond: f64 = match end {
        End::Lower => pmf[x + 1..].iter().sum(),
        End::Upper => pmf[..x].iter().sum(),
    };
    beyond + own * pmf[x]
}

/// Simpson's rule for the posterior tail: integrates t^(a-1) (1-t)^(b-1) or t^(a-1) e^-t after t = s^2, which removes the
/// root at 0 that half-integer shapes bring.
fn simpson(density: impl Fn(f64) -> f64, from: f64, to: f64) -> f64 {
    let steps = 4000;
    let h = (to - from) / f64::from(steps);
    let weight = |i: i32| {
        if i == 0 || i == steps {
            1.0
        } else if i % 2 == 1 {
            4.0
        } else {
            2.0
        }
    };
    (0..=steps)
        .map(|i| weight(i) * density(from + h * f64::from(i)))
        .sum::<f64>()
        * h
        / 3.0
}

/// What a proportion's limit gives back, relative to what it should: 1 for a right limit.
fn proportion_law(method: &str, x: u64, n: u64, level: f64, p: f64, end: End) -> f64 {
    let (z, t) = (normal_deviate(level).unwrap(), tail(level).unwrap());
    let (successes, trials) = (x as f64, n as f64);
    let share = successes / trials;
    let variance = |p: f64, n: f64| p * (1.0 - p) / n;
    match method {
        "clopper_pearson" => tail_of(&binomial(n, p), x, end, 1.0) / t,
        "mid_p" => tail_of(&binomial(n, p), x, end, 0.5) / t,
        "wilson" => (share - p).abs() / variance(p, trials).sqrt() / z,
        "wilson_cc" => ((share - p).abs() - 0.5 / trials) / variance(p, trials).sqrt() / z,
        "wald" => (share - p).abs() / variance(share, trials).sqrt() / z,
        "agresti_coull" => {
            let n = trials + z * z;
            let centre = (successes + z * z / 2.0) / n;
            (centre - p).abs() / variance(centre, n).sqrt() / z
        }
        "likelihood_ratio" => {
            let part = |k: f64, at: f64| {
                if k == 0.0 {
                    0.0
                } else {
                    k * (k / trials / at).ln()
                }
            };
            (2.0 * (part(successes, p) + part(trials - successes, 1.0 - p))).sqrt() / z
        }
        "jeffreys" | "jeffreys_modified" => {
            // t = sin^2(angle): 2 sin^(2a-1) cos^(2b-1), with whole exponents 2x and 2(n - x).
            let density = |angle: f64| {
                angle.sin().powf(2.0 * successes) * angle.cos().powf(2.0 * (trials - successes))
            };
            let (angle, right) = (p.sqrt().asin(), std::f64::consts::FRAC_PI_2);
            let all = simpson(density, 0.0, right);
            let part = if end == End::Lower {
                simpson(density, 0.0, angle)
            } else {
                simpson(density, angle, right)
            };
            part / all / t
        }
        other => panic!("no law for {other}"),
    }
}

/// What a count's limit gives back, relative to what it should.
fn rate_law(method: &str, x: u64, level: f64, mean: f64, end: End) -> f64 {
    let (z, t) = (normal_deviate(level).unwrap(), tail(level).unwrap());
    let count = x as f64;
    let top = (mean + 60.0 * (mean + 1.0).sqrt()) as usize + x as usize + 60;
    match method {
        "garwood" => tail_of(&poisson(mean, top), x, end, 1.0) / t,
        "mid_p" => tail_of(&poisson(mean, top), x, end, 0.5) / t,
        "score" => (count - mean).abs() / mean.sqrt() / z,
        "byar" => {
            // The cube root of mean / y is normal with mean 1 - 1/(9y) and standard deviation 1/(3 sqrt y).
            let y = if end == End::Lower {
                count
            } else {
                count + 1.0
            };
            ((mean / y).cbrt() - 1.0 + 1.0 / (9.0 * y)).abs() * 3.0 * y.sqrt() / z
        }
        "jeffreys" => {
            // mean = s^2: s^(2 count) exp(-s^2), scaled to stay in range.
            let scale = (count + 0.5).sqrt();
            let density = |s: f64| (s / scale).powf(2.0 * count) * (count - s * s).exp();
            let far = (count + 60.0 * (count + 1.0).sqrt() + 60.0).sqrt();
            let all = simpson(density, 0.0, far);
            let part = if end == End::Lower {
                simpson(density, 0.0, mean.sqrt())
            } else {
                simpson(density, mean.sqrt(), far)
            };
            part / all / t
        }
        other => panic!("no law for {other}"),
    }
}

/// How far from 1 a law may be: the slow sums' own rounding, and Simpson's error.
fn tolerance(method: &str) -> f64 {
    if method.starts_with("jeffreys") {
        1e-7
    } else {
        1e-9
    }
}

const CASES: [(u64, u64); 9] = [
    (0, 1),
    (1, 1),
    (0, 20),
    (1, 29),
    (15, 148),
    (81, 263),
    (7, 7),
    (199, 200),
    (30, 60),
];
const LEVELS: [f64; 4] = [0.5, 0.9, 0.95, 0.999];

fn ends(interval: Interval) -> [(End, f64); 2] {
    [(End::Lower, interval.lower), (End::Upper, interval.upper)]
}

#[test]
fn every_proportion_limit_gives_its_tail_back() {
    for method in proportion::METHODS {
        let mut tried = 0;
        for (x, n) in CASES {
            for level in LEVELS {
                let interval = (method.function)(x, n, level).unwrap();
                for (end, limit) in ends(interval) {
                    let at_edge = limit == 0.0 || limit == 1.0;
                    if at_edge || (method.id == "wald" && (x == 0 || x == n)) {
                        let edge_is_right = if end == End::Lower { x == 0 } else { x == n };
                        assert!(
                            edge_is_right || method.id == "wald",
                            "{} {x}/{n}: {interval:?}",
                            method.id
                        );
                        continue;
                    }
                    let ratio = proportion_law(method.id, x, n, level, limit, end);
                    assert!(
                        (ratio - 1.0).abs() < tolerance(method.id),
                        "{} {x}/{n} {level}: {limit} {ratio}",
                        method.id
                    );
                    tried += 1;
                }
            }
        }
        assert!(tried > 30, "{}: only {tried} limits tried", method.id);
    }
}

#[test]
fn every_rate_limit_gives_its_tail_back() {
    for method in poisson_rate::METHODS {
        let mut tried = 0;
        for count in [0, 1, 2, 5, 17, 60, 300] {
            for level in LEVELS {
                let interval = (method.function)(count, 1.0, level).unwrap();
                for (end, limit) in ends(interval) {
                    if limit == 0.0 {
                        // Byar's bracket falls below 0 for one event at high levels.
                        let few = count == 0 || (method.id == "byar" && count == 1);
                        assert!(
                            end == End::Lower && few,
                            "{} {count}: {interval:?}",
                            method.id
                        );
                        continue;
                    }
                    let ratio = rate_law(method.id, count, level, limit, end);
                    assert!(
                        (ratio - 1.0).abs() < tolerance(method.id),
                        "{} {count} {level}: {limit} {ratio}",
                        method.id
                    );
                    tried += 1;
                }
            }
        }
        assert!(tried > 40, "{}: only {tried} limits tried", method.id);
    }
}

/// The laws can fail: a limit one part in 10^4 off, one from the wrong level and one of another method are all rejected.
#[test]
fn wrong_limits_are_rejected() {
    let (x, n, count, level) = (15, 148, 17, 0.95);
    for method in proportion::METHODS {
        let right = (method.function)(x, n, level).unwrap();
        let one_sided = (method.function)(x, n, 0.9).unwrap();
        for ((end, limit), (_, wrong)) in ends(right).into_iter().zip(ends(one_sided)) {
            for wrong in [limit * 1.0001, limit * 0.9999, wrong] {
                let ratio = proportion_law(method.id, x, n, level, wrong, end);
                assert!(
                    (ratio - 1.0).abs() > 10.0 * tolerance(method.id),
                    "{}: {wrong} passes",
                    method.id
                );
            }
        }
    }
    for method in poisson_rate::METHODS {
        let right = (method.function)(count, 1.0, level).unwrap();
        for (end, limit) in ends(right) {
            let ratio = rate_law(method.id, count, level, limit * 1.0001, end);
            assert!(
                (ratio - 1.0).abs() > 10.0 * tolerance(method.id),
                "{}: {limit} passes",
                method.id
            );
        }
    }
    let other = proportion::wilson(x, n, level).unwrap();
    assert!(
        (proportion_law("clopper_pearson", x, n, level, other.lower, End::Lower) - 1.0).abs()
            > 0.01
    );
}

/// Ordered, nested in the level, containing the estimate where the method promises it, rising with the count.
fn check_order(
    id: &str,
    label: &str,
    estimate: f64,
    here: Interval,
    wider: Interval,
    next: Option<Interval>,
) {
    let slack = 1e-12 * (1.0 + estimate.abs());
    assert!(here.lower <= here.upper, "{id} {label}: {here:?}");
    let holds_estimate = !id.starts_with("jeffreys") && id != "mid_p" && id != "agresti_coull";
    if holds_estimate {
        assert!(
            here.lower <= estimate + slack && estimate <= here.upper + slack,
            "{id} {label}: {here:?}"
        );
    }
    assert!(
        wider.lower <= here.lower + slack && wider.upper >= here.upper - slack,
        "{id} {label}: not nested"
    );
    if let Some(next) = next.filter(|_| id != "wald") {
        assert!(
            next.lower >= here.lower - slack && next.upper >= here.upper - slack,
            "{id} {label}: not rising"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn proportions_are_ordered_nested_and_rising(n in 1u64..5_000_000, part in 0.0f64..=1.0, level in 0.05f64..0.9999) {
        let x = ((n as f64 * part) as u64).min(n);
        for method in proportion::METHODS {
            let at = |x, level| (method.function)(x, n, level).unwrap();
            let next = (x < n).then(|| at(x + 1, level));
            let wider = at(x, level + (1.0 - level) / 2.0);
            check_order(method.id, &format!("{x}/{n} {level}"), x as f64 / n as f64, at(x, level), wider, next);
        }
    }

    #[test]
    fn rates_are_ordered_nested_and_rising(count in 0u64..3_000_000, exposure in 1e-3f64..1e9, level in 0.05f64..0.9999) {
        for method in poisson_rate::METHODS {
            let at = |count, level| (method.function)(count, exposure, level).unwrap().scaled(exposure);
            let wider = at(count, level + (1.0 - level) / 2.0);
            // Byar is no likelihood method and need not hold the estimate at low levels.
            let id = if method.id == "byar" { "jeffreys" } else { method.id };
            check_order(id, &format!("{count} {level}"), count as f64, at(count, level), wider, Some(at(count + 1, level)));
        }
    }

    #[test]
    fn proportion_mirrors(n in 1u64..100_000_000, part in 0.0f64..=1.0, level in 0.1f64..0.9999) {
        let x = ((n as f64 * part) as u64).min(n);
        for method in proportion::METHODS {
            let (here, mirror) = ((method.function)(x, n, level).unwrap(), (method.function)(n - x, n, level).unwrap());
            prop_assert!((here.lower + mirror.upper - 1.0).abs() < 4e-16 * 10.0, "{} {x}/{n} {level}", method.id);
        }
    }
}

#[test]
fn impossible_inputs_are_refused_by_every_method() {
    for method in proportion::METHODS {
        for (x, n, level) in [
            (0, 0, 0.95),
            (2, 1, 0.95),
            (1, 2, 0.0),
            (1, 2, 1.0),
            (1, 2, 95.0),
            (1, 2, f64::NAN),
            (1, u64::MAX, 0.95),
        ] {
            assert!(
                (method.function)(x, n, level).is_err(),
                "{} {x}/{n} {level}",
                method.id
            );
        }
    }
    for method in poisson_rate::METHODS {
        for (count, exposure, level) in [
            (1, 0.0, 0.95),
            (1, -1.0, 0.95),
            (1, f64::INFINITY, 0.95),
            (1, f64::NAN, 0.95),
            (1, 1.0, 1.0),
            (u64::MAX, 1.0, 0.95),
        ] {
            assert!(
                (method.function)(count, exposure, level).is_err(),
                "{} {count}/{exposure} {level}",
                method.id
            );
        }
    }
}

/// Coverage found by listing every count: exact methods never fall below their level, Wald does by far.
#[test]
fn exact_methods_cover_at_least_their_level_everywhere() {
    let (n, level) = (40, 0.95);
    let coverage = |function: fn(u64, u64, f64) -> Result<Interval, boretally::stats::Error>,
                    p: f64| {
        let pmf = binomial(n, p);
        (0..=n)
            .filter(|&x| function(x, n, level).unwrap().contains(p))
            .map(|x| pmf[x as usize])
            .sum::<f64>()
    };
    let grid = || (1..400).map(|i| f64::from(i) / 400.0);
    for p in grid() {
        assert!(
            coverage(proportion::clopper_pearson, p) >= level - 1e-12,
            "{p}"
        );
    }
    let mean = grid().map(|p| coverage(proportion::wilson, p)).sum::<f64>() / 399.0;
    assert!(
        (mean - level).abs() < 0.01,
        "Wilson covers {mean} on average"
    );
    let worst = grid()
        .map(|p| coverage(proportion::wald, p))
        .fold(1.0, f64::min);
    assert!(worst < 0.8, "Wald's worst coverage {worst}");

    for i in 1..200 {
        let mean = 0.15 * f64::from(i);
        let pmf = poisson(mean, 400);
        let covered: f64 = (0..=400u64)
            .filter(|&x| poisson_rate::garwood(x, 1.0, level).unwrap().contains(mean))
            .map(|x| pmf[x as usize])
            .sum();
        assert!(covered >= level - 1e-12, "{mean}: {covered}");
    }
}

/// Ids are unique and every entry is filled in, since lists elsewhere derive from the registers.
#[test]
fn registers_are_complete() {
    let proportions = proportion::METHODS
        .iter()
        .map(|m| (m.id, m.title, m.source, m.coverage));
    let rates = poisson_rate::METHODS
        .iter()
        .map(|m| (m.id, m.title, m.source, m.coverage));
    for list in [proportions.collect::<Vec<_>>(), rates.collect()] {
        for (i, entry) in list.iter().enumerate() {
            assert!(
                ![entry.0, entry.1, entry.2, entry.3].contains(&""),
                "{entry:?}"
            );
            assert!(
                !list[..i].iter().any(|other| other.0 == entry.0),
                "{entry:?} twice"
            );
        }
    }
}
