//! Adjusted p-values for a family of tests looked at together.
//!
//! An answer that asks one question of every cell of a table asks it many times; without an adjustment some cells stand
//! out by chance alone. Every procedure here returns, for each p-value in its place, the smallest level at which that
//! procedure would reject it. [`rejects`] compares such a value with a level.

use super::error::Error;

/// Relative slack of [`rejects`]: the product `m * p / i` of a p-value lying exactly on its line may miss the line by a
/// few units in the last place, and such a p-value is to be rejected (`<=`).
const BOUNDARY_SLACK: f64 = 1e-12;

/// One procedure of the registry [`METHODS`].
#[derive(Debug, Clone, Copy)]
pub struct Method {
    /// Stable id, as in options and answers.
    pub id: &'static str,
    /// Name for headings.
    pub title: &'static str,
    /// What the procedure keeps under the level.
    pub controls: &'static str,
    /// Author and year.
    pub source: &'static str,
    /// The procedure.
    pub function: fn(&[f64]) -> Result<Vec<f64>, Error>,
}

/// Every procedure, in the order of their strictness.
pub const METHODS: &[Method] = &[
    Method {
        id: "bonferroni",
        title: "Bonferroni",
        controls: "family-wise error, any dependence",
        source: "Dunn 1961, J Am Stat Assoc 56:52",
        function: bonferroni,
    },
    Method {
        id: "holm",
        title: "Holm",
        controls: "family-wise error, any dependence",
        source: "Holm 1979, Scand J Stat 6:65",
        function: holm,
    },
    Method {
        id: "hochberg",
        title: "Hochberg",
        controls: "family-wise error, independent or positively dependent tests",
        source: "Hochberg 1988, Biometrika 75:800",
        function: hochberg,
    },
    Method {
        id: "benjamini_yekutieli",
        title: "Benjamini-Yekutieli",
        controls: "false discovery rate, any dependence",
        source: "Benjamini & Yekutieli 2001, Ann Stat 29:1165",
        function: benjamini_yekutieli,
    },
    Method {
        id: "benjamini_hochberg",
        title: "Benjamini-Hochberg",
        controls: "false discovery rate, independent or positively dependent tests",
        source: "Benjamini & Hochberg 1995, J R Stat Soc B 57:289",
        function: benjamini_hochberg,
    },
];

/// Whether an adjusted p-value is rejected at `level` (`<=`, with slack for a value exactly on its line).
pub fn rejects(adjusted: f64, level: f64) -> bool {
    adjusted <= level * (1.0 + BOUNDARY_SLACK)
}

/// Bonferroni: `min(1, m p)`.
///
/// # Errors
/// A value that is not a number or lies outside [0, 1] (so do all procedures of this module).
pub fn bonferroni(p: &[f64]) -> Result<Vec<f64>, Error> {
    check(p)?;
    let m = p.len() as f64;
    Ok(p.iter().map(|&v| (m * v).min(1.0)).collect())
}

/// Holm's step-down procedure: `max over j <= i of (m - j + 1) p_(j)`, at most 1.
pub fn holm(p: &[f64]) -> Result<Vec<f64>, Error> {
    step(p, Direction::Down, |m, rank, value| {
        (m - rank + 1.0) * value
    })
}

/// Hochberg's step-up procedure: `min over j >= i of (m - j + 1) p_(j)`, at most 1.
pub fn hochberg(p: &[f64]) -> Result<Vec<f64>, Error> {
    step(p, Direction::Up, |m, rank, value| (m - rank + 1.0) * value)
}

/// Benjamini and Hochberg's step-up procedure: `min over j >= i of m p_(j) / j`, at most 1.
pub fn benjamini_hochberg(p: &[f64]) -> Result<Vec<f64>, Error> {
    step(p, Direction::Up, |m, rank, value| m * value / rank)
}

/// Benjamini and Yekutieli's step-up procedure: Benjamini-Hochberg times `1 + 1/2 + ... + 1/m`, at most 1.
pub fn benjamini_yekutieli(p: &[f64]) -> Result<Vec<f64>, Error> {
    let harmonic: f64 = (1..=p.len()).rev().map(|i| 1.0 / i as f64).sum();
    step(p, Direction::Up, |m, rank, value| {
        harmonic * m * value / rank
    })
}

#[derive(Clone, Copy, PartialEq)]
enum Direction {
    /// From the smallest p-value on, a running maximum.
    Down,
    /// From the largest p-value on, a running minimum.
    Up,
}

/// Scales the sorted values by `scale(m, rank, value)` and makes them monotone from the procedure's own end, so that a
/// smaller p-value never gets a larger adjusted one and tied p-values get the same one.
fn step(
    p: &[f64],
    direction: Direction,
    scale: impl Fn(f64, f64, f64) -> f64,
) -> Result<Vec<f64>, Error> {
    check(p)?;
    let m = p.len() as f64;
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]).then(a.cmp(&b)));
    let mut ranked: Vec<(usize, f64)> = order
        .iter()
        .enumerate()
        .map(|(i, &at)| (at, scale(m, i as f64 + 1.0, p[at])))
        .collect();
    let mut adjusted = vec![1.0; p.len()];
    if direction == Direction::Up {
        ranked.reverse();
    }
    let mut running = if direction == Direction::Up {
        1.0_f64
    } else {
        0.0
    };
    for (at, value) in ranked {
        running = match direction {
            Direction::Up => running.min(value),
            Direction::Down => running.max(value.min(1.0)),
        };
        adjusted[at] = running;
    }
    Ok(adjusted)
}

fn check(p: &[f64]) -> Result<(), Error> {
    match p.iter().find(|v| !(0.0..=1.0).contains(*v)) {
        None => Ok(()),
        Some(&value) => Err(Error::Parameter {
            name: "p",
            value,
            requirement: "a p-value lies from 0 to 1",
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ties share one value, order of input does not matter, and adjusted values follow the order of the raw ones.
    #[test]
    fn every_procedure_is_monotone_and_blind_to_order() {
        let p = [0.04, 0.01, 0.04, 0.0, 1.0, 0.01, 0.3, 0.04];
        let mut reversed = p;
        reversed.reverse();
        for method in METHODS {
            let adjusted = (method.function)(&p).unwrap();
            let mut other = (method.function)(&reversed).unwrap();
            other.reverse();
            assert_eq!(adjusted, other, "{}", method.id);
            for (i, j) in (0..p.len()).flat_map(|i| (0..p.len()).map(move |j| (i, j))) {
                if p[i] == p[j] {
                    assert_eq!(adjusted[i], adjusted[j], "{}", method.id);
                }
                if p[i] < p[j] {
                    assert!(adjusted[i] <= adjusted[j], "{}", method.id);
                }
            }
            assert!(
                adjusted
                    .iter()
                    .zip(p)
                    .all(|(a, raw)| *a >= raw && *a <= 1.0),
                "{}",
                method.id
            );
        }
    }

    /// Hochberg never exceeds Holm, Holm never Bonferroni (closed form).
    #[test]
    fn stricter_procedures_give_larger_values() {
        let p = [0.001, 0.02, 0.021, 0.022, 0.5];
        let (b, h, u) = (
            bonferroni(&p).unwrap(),
            holm(&p).unwrap(),
            hochberg(&p).unwrap(),
        );
        let (bh, by) = (
            benjamini_hochberg(&p).unwrap(),
            benjamini_yekutieli(&p).unwrap(),
        );
        for i in 0..p.len() {
            assert!(u[i] <= h[i] && h[i] <= b[i] && bh[i] <= u[i] && bh[i] <= by[i]);
        }
        assert!(u[1] < h[1] && h[4] < b[4]);
    }

    /// All p-values equal to their Benjamini-Hochberg line are rejected, whatever the rounding of `m p / i`.
    #[test]
    fn a_value_exactly_on_its_line_is_rejected() {
        for m in 1..400_usize {
            for level in [0.05, 0.01, 0.1, 0.2] {
                let p: Vec<f64> = (1..=m).map(|i| i as f64 * level / m as f64).collect();
                let adjusted = benjamini_hochberg(&p).unwrap();
                assert!(
                    adjusted.iter().all(|&a| rejects(a, level)),
                    "m = {m}, level = {level}"
                );
            }
        }
        assert!(!rejects(0.05 + 1e-9, 0.05));
    }

    #[test]
    fn edges_and_bad_input() {
        for method in METHODS {
            assert_eq!((method.function)(&[]).unwrap(), Vec::<f64>::new());
            assert_eq!(
                (method.function)(&[0.03]).unwrap(),
                vec![0.03],
                "{}",
                method.id
            );
            for bad in [f64::NAN, -1e-9, 1.0 + 1e-9, f64::INFINITY] {
                assert!(
                    (method.function)(&[0.5, bad]).is_err(),
                    "{} took {bad}",
                    method.id
                );
            }
        }
    }
}
