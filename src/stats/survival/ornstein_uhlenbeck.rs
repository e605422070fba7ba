//! How long a stationary Ornstein-Uhlenbeck process stays between two symmetric bounds.
//!
//! The transition density between absorbing bounds -x and x, seen through the square root of the stationary density, is the
//! semigroup of H = -d^2/dz^2 + z^2 / 4 - 1 / 2 with value 0 at the bounds. In the basis cos((2 m + 1) pi z / (2 x)) the
//! matrix of H has closed forms, and the probability is v' exp(-H duration) v with v the stationary start. Lanczos' steps
//! from v make it a sum over the eigenvalues of a tridiagonal matrix, weighted by the squares of the first components of its
//! eigenvectors (Golub & Meurant 2010, Matrices, Moments and Quadrature with Applications, chapters 4 and 6).

use std::f64::consts::PI;
use std::sync::LazyLock;

/// Most functions in the basis.
const LARGEST_BASIS: usize = 48;
/// Shortest duration computed: below it the basis does not resolve the start. A band is then slightly too wide, never too
/// narrow.
const SHORTEST: f64 = 0.02;

/// A cell beside the diagonal this small against it is none.
const NEGLIGIBLE: f64 = 1e-15;

/// The probability that the process, started in its stationary standard normal distribution, stays within (-x, x) over
/// `duration`; x > 0. In relative terms the complement is right to about 1e-6.
pub(super) fn probability_inside(x: f64, duration: f64) -> f64 {
    let duration = duration.max(SHORTEST);
    // The modes that have not died out, (2 m + 1) pi / (2 x) below sqrt(30 / duration), and some for their accuracy.
    let alive = x / PI * (30.0 / duration).sqrt();
    let size = (alive.ceil() as usize + 20).min(LARGEST_BASIS);
    let start = stationary_start(x, size);
    let mass: f64 = start.iter().map(|part| part * part).sum();
    let modes = tridiagonal(&hamiltonian(x, size), &start).modes();
    let decayed = modes.map(|(rate, share)| share * (-rate * duration).exp());
    mass * decayed.sum::<f64>()
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

/// Intervals of Simpson's rule.
const INTERVALS: usize = 600;
/// Places or products worked out side by side.
const LANES: usize = 8;

/// Places of Simpson's rule, as many as the lanes: the first cosine at each, and twice that of the double angle.
struct Places {
    weights: [f64; LANES],
    cosines: [f64; LANES],
    twice: [f64; LANES],
}

/// All places of [0, 1] in units of x: their angles are the same for every x.
static PLACES: LazyLock<Vec<Places>> = LazyLock::new(|| {
    let numbers: Vec<usize> = (0..=INTERVALS).collect();
    let places = numbers.chunks(LANES).map(|numbers| {
        let mut places = Places {
            weights: [0.0; LANES],
            cosines: [0.0; LANES],
            twice: [0.0; LANES],
        };
        for (lane, &i) in numbers.iter().enumerate() {
            let angle = PI * i as f64 / (2 * INTERVALS) as f64;
            places.weights[lane] = match i {
                0 | INTERVALS => 1.0,
                i if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            places.cosines[lane] = angle.cos();
            places.twice[lane] = 2.0 * (2.0 * angle).cos();
        }
        places
    });
    places.collect()
});

/// The coefficients of the root of the standard normal density, by Simpson's rule.
fn stationary_start(x: f64, size: usize) -> Vec<f64> {
    let step = x / INTERVALS as f64;
    let mut sums = vec![[0.0; LANES]; size];
    for (first, places) in PLACES.iter().enumerate() {
        let mut height = [0.0; LANES];
        for (lane, height) in height.iter_mut().enumerate() {
            let z = (first * LANES + lane) as f64 * step;
            *height = places.weights[lane] * step / 3.0 * (-0.25 * z * z).exp();
        }
        // cos((2 m + 1) a) from the two before it.
        let (mut before, mut now) = (places.cosines, places.cosines);
        for sum in &mut sums {
            for lane in 0..LANES {
                sum[lane] += height[lane] * now[lane];
                let next = places.twice[lane] * now[lane] - before[lane];
                (before[lane], now[lane]) = (now[lane], next);
            }
        }
    }
    let front = 2.0 / (x.sqrt() * (2.0 * PI).powf(0.25));
    let sums = sums.iter().map(|sum| front * sum.iter().sum::<f64>());
    sums.collect()
}

/// The sum of products, in as many parts as the lanes.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (a, a_rest) = a.as_chunks::<LANES>();
    let (b, b_rest) = b.as_chunks::<LANES>();
    let mut sums = [0.0; LANES];
    for (a, b) in a.iter().zip(b) {
        for lane in 0..LANES {
            sums[lane] += a[lane] * b[lane];
        }
    }
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
    sums.iter().sum::<f64>() + rest
}

/// A symmetric matrix with cells on and beside the diagonal only.
struct Tridiagonal {
    diagonal: Vec<f64>,
    beside: Vec<f64>,
}

/// The matrix in the basis that Lanczos' steps make from `start`, each new vector cleared of all before it.
fn tridiagonal(matrix: &[Vec<f64>], start: &[f64]) -> Tridiagonal {
    let mut found = Tridiagonal {
        diagonal: Vec::new(),
        beside: Vec::new(),
    };
    let mut basis: Vec<Vec<f64>> = Vec::new();
    let mut next = start.to_vec();
    let mut length = dot(&next, &next).sqrt();
    while basis.len() < start.len() {
        next.iter_mut().for_each(|part| *part /= length);
        let mut image: Vec<f64> = matrix.iter().map(|row| dot(row, &next)).collect();
        let on = dot(&image, &next);
        found.diagonal.push(on);
        basis.push(next);
        // Twice is enough for vectors orthogonal to the last digit.
        for _ in 0..2 {
            for vector in &basis {
                let along = dot(&image, vector);
                let parts = image.iter_mut().zip(vector);
                parts.for_each(|(part, v)| *part -= along * v);
            }
        }
        length = dot(&image, &image).sqrt();
        if length <= NEGLIGIBLE * on.abs() {
            break;
        }
        found.beside.push(length);
        next = image;
    }
    found
        .beside
        .truncate(found.diagonal.len().saturating_sub(1));
    found
}

impl Tridiagonal {
    /// Eigenvalues, each with the square of its eigenvector's first component, by implicit QL steps (Golub & Welsch 1969, Math
    /// Comp 23:221).
    fn modes(self) -> impl Iterator<Item = (f64, f64)> {
        let Self {
            diagonal: mut d,
            beside: mut e,
        } = self;
        let size = d.len();
        e.resize(size, 0.0);
        let mut first = vec![0.0; size];
        if let Some(one) = first.first_mut() {
            *one = 1.0;
        }
        for low in 0..size {
            for _ in 0..60 {
                let split = (low..size.saturating_sub(1))
                    .find(|&m| e[m].abs() <= NEGLIGIBLE * (d[m].abs() + d[m + 1].abs()))
                    .unwrap_or(size - 1);
                if split == low {
                    break;
                }
                let mut g = (d[low + 1] - d[low]) / (2.0 * e[low]);
                let r = (g * g + 1.0).sqrt();
                g = d[split] - d[low] + e[low] / (g + r.copysign(g));
                let (mut s, mut c, mut p) = (1.0, 1.0, 0.0);
                for i in (low..split).rev() {
                    let (f, b) = (s * e[i], c * e[i]);
                    let r = (f * f + g * g).sqrt();
                    e[i + 1] = r;
                    (s, c) = (f / r, g / r);
                    g = d[i + 1] - p;
                    let turned = (d[i] - g) * s + 2.0 * c * b;
                    p = s * turned;
                    d[i + 1] = g + p;
                    g = c * turned - b;
                    let (x, y) = (first[i], first[i + 1]);
                    first[i + 1] = s * x + c * y;
                    first[i] = c * x - s * y;
                }
                d[low] -= p;
                e[low] = g;
                e[split] = 0.0;
            }
        }
        d.into_iter()
            .zip(first)
            .map(|(rate, part)| (rate, part * part))
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
