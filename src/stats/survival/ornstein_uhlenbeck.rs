//! How long a stationary Ornstein-Uhlenbeck process stays between two symmetric bounds.
//!
//! The transition density between absorbing bounds -x and x, seen through the square root of the stationary density, is the
//! semigroup of H = -d^2/dz^2 + z^2 / 4 - 1 / 2 with value 0 at the bounds. In the basis cos((2 m + 1) pi z / (2 x)) the
//! matrix of H has closed forms; its eigenvalues and the coefficients of the stationary start give the probability as a sum
//! of exponentials.

use std::f64::consts::PI;

/// Most functions in the basis.
const LARGEST_BASIS: usize = 48;
/// Shortest duration computed: below it the basis does not resolve the start. A band is then slightly too wide, never too
/// narrow.
const SHORTEST: f64 = 0.02;

/// A cell this small against its diagonal moves an eigenvalue by less than its rounding.
const NEGLIGIBLE: f64 = 1e-11;

/// The probability that the process, started in its stationary standard normal distribution, stays within (-x, x) over
/// `duration`; x > 0. In relative terms the complement is right to about 1e-6.
pub(super) fn probability_inside(x: f64, duration: f64) -> f64 {
    let duration = duration.max(SHORTEST);
    // The modes that have not died out, (2 m + 1) pi / (2 x) below sqrt(30 / duration), and some for their accuracy.
    let alive = x / PI * (30.0 / duration).sqrt();
    let size = (alive.ceil() as usize + 20).min(LARGEST_BASIS);
    let (mut matrix, mut start) = (hamiltonian(x, size), stationary_start(x, size));
    diagonalise(&mut matrix, &mut start);
    let modes = matrix.iter().enumerate().zip(&start);
    modes
        .map(|((m, row), coefficient)| {
            let rate = row.get(m).copied().unwrap_or(0.0);
            coefficient * coefficient * (-rate * duration).exp()
        })
        .sum()
}

/// The matrix of H in the basis.
fn hamiltonian(x: f64, size: usize) -> Vec<Vec<f64>> {
    // The integral of z^2 cos(p pi z / x) over the interval, divided by 2 x.
    let square = |p: i64| {
        if p == 0 {
            return x * x / 3.0;
        }
        let sign = if p % 2 == 0 { 1.0 } else { -1.0 };
        2.0 * x * x * sign / (p as f64 * PI).powi(2)
    };
    let cell = |m: usize, n: usize| {
        let (a, b) = (m as i64, n as i64);
        let potential = 0.25 * (square(a - b) + square(a + b + 1));
        let wave = (2.0 * m as f64 + 1.0) * PI / (2.0 * x);
        potential + if m == n { wave * wave - 0.5 } else { 0.0 }
    };
    (0..size)
        .map(|m| (0..size).map(|n| cell(m, n)).collect())
        .collect()
}

/// The coefficients of the root of the standard normal density, by Simpson's rule.
fn stationary_start(x: f64, size: usize) -> Vec<f64> {
    const INTERVALS: usize = 600;
    let step = x / INTERVALS as f64;
    let values: Vec<(f64, f64)> = (0..=INTERVALS)
        .map(|i| {
            let z = i as f64 * step;
            let weight = match i {
                0 | INTERVALS => 1.0,
                i if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            (z, weight * step / 3.0 * (-0.25 * z * z).exp())
        })
        .collect();
    let front = 2.0 / (x.sqrt() * (2.0 * PI).powf(0.25));
    (0..size)
        .map(|m| {
            let wave = (2.0 * m as f64 + 1.0) * PI / (2.0 * x);
            front
                * values
                    .iter()
                    .map(|(z, weight)| weight * (wave * z).cos())
                    .sum::<f64>()
        })
        .collect()
}

/// Turns a symmetric matrix into its eigenvalues by Jacobi's rotations, and carries a vector along.
fn diagonalise(matrix: &mut [Vec<f64>], vector: &mut [f64]) {
    let size = vector.len();
    for _ in 0..30 {
        let mut largest = 0.0f64;
        for p in 0..size {
            for q in p + 1..size {
                largest = largest.max(rotate(matrix, vector, p, q));
            }
        }
        if largest < 1e-9 {
            return;
        }
    }
}

/// One rotation that clears the cell (p, q); returns its size against the diagonal before.
fn rotate(matrix: &mut [Vec<f64>], vector: &mut [f64], p: usize, q: usize) -> f64 {
    let get = |matrix: &[Vec<f64>], i: usize, j: usize| {
        matrix
            .get(i)
            .and_then(|row| row.get(j))
            .copied()
            .unwrap_or(0.0)
    };
    let (app, aqq, apq) = (get(matrix, p, p), get(matrix, q, q), get(matrix, p, q));
    let relative = apq.abs() / (app.abs() + aqq.abs() + f64::MIN_POSITIVE);
    if relative < NEGLIGIBLE {
        return 0.0;
    }
    let theta = (aqq - app) / (2.0 * apq);
    let t = theta.signum() / (theta.abs() + theta.hypot(1.0));
    let c = 1.0 / t.hypot(1.0);
    let s = t * c;
    for row in matrix.iter_mut() {
        turn(row, p, q, c, s);
    }
    let (Some(row_p), Some(row_q)) = (matrix.get(p).cloned(), matrix.get(q).cloned()) else {
        return relative;
    };
    let turned: Vec<(f64, f64)> = row_p
        .iter()
        .zip(&row_q)
        .map(|(a, b)| (c * a - s * b, s * a + c * b))
        .collect();
    for (i, part) in [(p, false), (q, true)] {
        if let Some(row) = matrix.get_mut(i) {
            for (cell, (first, second)) in row.iter_mut().zip(&turned) {
                *cell = if part { *second } else { *first };
            }
        }
    }
    turn(vector, p, q, c, s);
    relative
}

fn turn(list: &mut [f64], p: usize, q: usize, c: f64, s: f64) {
    let (Some(&a), Some(&b)) = (list.get(p), list.get(q)) else {
        return;
    };
    if let Some(cell) = list.get_mut(p) {
        *cell = c * a - s * b;
    }
    if let Some(cell) = list.get_mut(q) {
        *cell = s * a + c * b;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_sum_over_kummer_functions() {
        // Computed with mpmath at 30 digits: zeros in lambda of M(-lambda / 2, 1 / 2, x^2 / 2), coefficients in closed form.
        for (duration, x, wanted) in [
            (0.5, 2.0, 0.810219238324877),
            (0.5, 3.0, 0.981986802208576),
            (1.0, 2.0, 0.716422350713852),
            (1.0, 3.5, 0.993340621638751),
            (2.1972245773362196, 3.0, 0.942487693207825),
            (4.0, 2.0, 0.345558719648985),
            (4.0, 3.5, 0.976920055305984),
        ] {
            let got = 1.0 - probability_inside(x, duration);
            let error = got / (1.0 - wanted) - 1.0;
            assert!(error.abs() < 2e-6, "{duration} {x}: {error:e}");
        }
    }

    #[test]
    fn short_stretch_tends_to_one_point() {
        // Over the shortest duration the process has hardly moved: a little less than 2 Phi(x) - 1.
        let inside = probability_inside(2.0, 0.0);
        assert!(inside < 0.9545 && inside > 0.93, "{inside}");
    }
}
