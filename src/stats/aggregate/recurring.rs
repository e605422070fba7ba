//! Units that may fail again: how many failures while each gathers its cumulative hazard.
//!
//! A unit's first failure comes at rate 1 in its own cumulative hazard, each further one at rate r (the repeat factor): r = 0
//! is a unit that fails at most once, r = 1 one that is as bad as old after a repair (a Poisson process), r < 1 one that
//! is better after it. Over a cumulative hazard h its generating function is
//!
//! G(s; h) = e^-h + s (e^(r (s - 1) h) - e^-h) / (1 + r (s - 1)),
//!
//! by conditioning on the first failure. The logarithm is a power series in h with coefficients g_k(s), so that many units
//! need no loop per value of s: sum_i ln G(s; h_i) = sum_k g_k(s) S_k with the power sums S_k = sum_i h_i^k, which a
//! fleet gathers once. Units with a large hazard go through G itself.

use super::complex::Complex;

/// Terms of the series.
const TERMS: usize = 28;

/// Units in the form that generating functions need.
#[derive(Debug, Clone, PartialEq)]
pub struct Recurring {
    repeat: f64,
    /// S_1, S_2, ... of units with a small hazard.
    power_sums: [f64; TERMS],
    /// Hazard and number of the others.
    large: Vec<(f64, f64)>,
}

impl Recurring {
    /// No unit yet, with a repeat factor >= 0.
    pub fn new(repeat: f64) -> Self {
        Self {
            repeat,
            power_sums: [0.0; TERMS],
            large: Vec::new(),
        }
    }

    /// The hazard from which on units go through G itself: a quarter of the smallest |h| with G(s; h) = 0 for |s| = 1, within which
    /// the series converges, so that less than 1e-16 is left after the last term. The zeros are where
    /// s e^((1 + r (s - 1)) h) = (s - 1) (1 - r); the nearest is at s = -1: h = ln(2 (1 - r)) / (1 - 2 r) up to r = 1, where none is
    /// left, and |ln(2 (r - 1)) + i pi| / (2 r - 1) beyond.
    fn largest(&self) -> f64 {
        let r = self.repeat;
        let radius = if (r - 0.5).abs() < 1e-3 {
            1.0
        } else if r < 1.0 {
            (2.0 * (1.0 - r)).ln() / (1.0 - 2.0 * r)
        } else {
            3.0 / (2.0 * r - 1.0)
        };
        0.25 * radius.min(4.0)
    }

    /// Adds units that gather the hazard `hazard` each.
    pub fn add(&mut self, units: f64, hazard: f64) {
        if hazard > self.largest() {
            self.large.push((hazard, units));
            return;
        }
        let mut power = units;
        for sum in &mut self.power_sums {
            power *= hazard;
            *sum += power;
            if power < 1e-300 {
                break;
            }
        }
    }

    /// The same units all together with `other`, which must have the same repeat factor.
    pub fn join(&mut self, other: &Self) {
        for (sum, more) in self.power_sums.iter_mut().zip(&other.power_sums) {
            *sum += more;
        }
        self.large.extend_from_slice(&other.large);
    }

    /// The repeat factor.
    pub fn repeat(&self) -> f64 {
        self.repeat
    }

    /// ln E[s^N].
    pub fn ln_generating(&self, s: Complex) -> Complex {
        self.with_series(&LogSeries::new(s, self.repeat))
    }

    /// ln E[s^N] with the series of s at hand.
    pub fn with_series(&self, series: &LogSeries) -> Complex {
        let mut sum = Complex::default();
        for (coefficient, power_sum) in series.coefficients.iter().zip(&self.power_sums) {
            if power_sum.abs() < 1e-40 {
                break;
            }
            sum += coefficient.scaled(*power_sum);
        }
        for &(hazard, units) in &self.large {
            let g = generating(series.s, self.repeat, hazard);
            sum += (g - Complex::ONE).ln_1p().scaled(units);
        }
        sum
    }

    /// The expected number of failures and its variance.
    ///
    /// With q = 1 - e^-h a unit has E[N] = q + r (h - q) and E[N (N - 1)] = 2 r (h - q) + r^2 (h^2 - 2 h + 2 q).
    pub fn mean_and_variance(&self) -> (f64, f64) {
        let (mut mean, mut variance) = (0.0, 0.0);
        for &(hazard, units) in &self.large {
            let (m, v) = moments(hazard, self.repeat);
            mean += units * m;
            variance += units * v;
        }
        // The cumulants are those of the series: with s = e^t, mean and variance of a unit as power series in h.
        let (first, second) = cumulant_series(self.repeat);
        for ((a, b), sum) in first.iter().zip(&second).zip(&self.power_sums) {
            mean += a * sum;
            variance += b * sum;
        }
        (mean, variance)
    }
}

fn moments(hazard: f64, repeat: f64) -> (f64, f64) {
    let q = -(-hazard).exp_m1();
    let again = hazard - q;
    let mean = q + repeat * again;
    let pairs = 2.0 * repeat * again + repeat * repeat * (hazard * hazard - 2.0 * hazard + 2.0 * q);
    (mean, pairs + mean - mean * mean)
}

/// Coefficients in h of mean and variance of one unit.
fn cumulant_series(repeat: f64) -> ([f64; TERMS], [f64; TERMS]) {
    // q = h - h^2/2 + h^3/6 - ..., so E[N] = h + (r - 1) (h^2/2 - h^3/6 + ...) and so on.
    let mut mean = [0.0; TERMS];
    let mut pairs = [0.0; TERMS];
    let mut term = -1.0;
    for (k, (m, p)) in mean.iter_mut().zip(&mut pairs).enumerate() {
        let power = k as f64 + 1.0;
        // (-1)^(k+1) / k! of h^k in q.
        term *= -1.0 / power;
        let q = term;
        let h = if k == 0 { 1.0 } else { 0.0 };
        let square = if k == 1 { 1.0 } else { 0.0 };
        *m = q + repeat * (h - q);
        *p = 2.0 * repeat * (h - q) + repeat * repeat * (square - 2.0 * h + 2.0 * q);
    }
    let mut variance = [0.0; TERMS];
    for (k, v) in variance.iter_mut().enumerate() {
        let products: f64 = (0..k)
            .map(|j| {
                mean.get(j).copied().unwrap_or(0.0) * mean.get(k - 1 - j).copied().unwrap_or(0.0)
            })
            .sum();
        *v = pairs.get(k).copied().unwrap_or(0.0) + mean.get(k).copied().unwrap_or(0.0) - products;
    }
    (mean, variance)
}

/// G(s; h).
fn generating(s: Complex, repeat: f64, hazard: f64) -> Complex {
    let none = Complex::real((-hazard).exp());
    let away = (s - Complex::ONE).scaled(repeat);
    let rate = Complex::ONE + away;
    if rate.abs() < 1e-4 {
        // (e^(a h) - e^-h) / (1 + a) with 1 + a near 0: e^-h h (1 + x/2 + x^2/6 + x^3/24), x = (1 + a) h.
        let x = rate.scaled(hazard);
        let inner = Complex::ONE
            + x.scaled(0.5)
            + (x * x).scaled(1.0 / 6.0)
            + (x * x * x).scaled(1.0 / 24.0);
        return none + s * inner * none.scaled(hazard);
    }
    none + s * (away.scaled(hazard).exp() - none) * rate.inverse()
}

/// The coefficients g_k(s) of ln G(s; h) in powers of h.
#[derive(Debug, Clone, PartialEq)]
pub struct LogSeries {
    s: Complex,
    coefficients: [Complex; TERMS],
}

impl LogSeries {
    /// By the recursions of a linear differential equation and of the logarithm of a series.
    ///
    /// G = e^-h + s p with p' = e^-h + r (s - 1) p, and k g_k = k G_k - sum_{j<k} j g_j G_{k-j}.
    pub fn new(s: Complex, repeat: f64) -> Self {
        let away = (s - Complex::ONE).scaled(repeat);
        let mut none = 1.0;
        let mut part = Complex::default();
        let mut series = [Complex::ONE; TERMS + 1];
        for (k, slot) in series.iter_mut().enumerate().skip(1) {
            let power = k as f64;
            part = (Complex::real(none) + away * part).scaled(1.0 / power);
            none *= -1.0 / power;
            *slot = Complex::real(none) + s * part;
        }
        let mut coefficients = [Complex::default(); TERMS];
        for k in 1..=TERMS {
            let mut sum = Complex::default();
            for j in 1..k {
                let (Some(g), Some(later)) = (coefficients.get(j - 1), series.get(k - j)) else {
                    continue;
                };
                sum += (*g * *later).scaled(j as f64);
            }
            if let (Some(slot), Some(at)) = (coefficients.get_mut(k - 1), series.get(k)) {
                *slot = *at - sum.scaled(1.0 / k as f64);
            }
        }
        Self { s, coefficients }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn series_equals_the_closed_form() {
        for repeat in [0.0, 0.4, 1.0, 1.7, 4.0] {
            for hazard in [1e-6, 0.01, 0.9 * Recurring::new(repeat).largest()] {
                for angle in [0.0, 0.3, 1.5, std::f64::consts::PI] {
                    let s = Complex::on_circle(angle);
                    let mut units = Recurring::new(repeat);
                    units.add(3.0, hazard);
                    let exact = (generating(s, repeat, hazard) - Complex::ONE)
                        .ln_1p()
                        .scaled(3.0);
                    let off = (units.ln_generating(s) - exact).abs();
                    assert!(
                        off < 2e-15,
                        "r {repeat}, h {hazard}, angle {angle}: {off:e}"
                    );
                }
            }
        }
    }

    #[test]
    fn as_bad_as_old_is_a_poisson_count() {
        let s = Complex::on_circle(0.7);
        let mut units = Recurring::new(1.0);
        units.add(5.0, 0.02);
        units.add(1.0, 0.9);
        let poisson = (s - Complex::ONE).scaled(1.0);
        assert!((units.ln_generating(s) - poisson).abs() < 1e-15);
        let (mean, variance) = units.mean_and_variance();
        assert!((mean - 1.0).abs() < 1e-15 && (variance - 1.0).abs() < 1e-15);
    }

    #[test]
    fn a_unit_that_fails_once_is_a_bernoulli() {
        let mut units = Recurring::new(0.0);
        units.add(2.0, 0.05);
        units.add(1.0, 0.6);
        let p = |h: f64| 1.0 - (-h).exp();
        let mean = 2.0 * p(0.05) + p(0.6);
        let variance = 2.0 * p(0.05) * (1.0 - p(0.05)) + p(0.6) * (1.0 - p(0.6));
        let (m, v) = units.mean_and_variance();
        assert!((m - mean).abs() < 1e-15 && (v - variance).abs() < 1e-15);
    }

    #[test]
    fn moments_are_the_same_by_series_and_by_formula() {
        for repeat in [0.3, 1.0, 2.5] {
            let hazard = 0.99 * Recurring::new(repeat).largest();
            let mut units = Recurring::new(repeat);
            units.add(1.0, hazard);
            let (mean, variance) = units.mean_and_variance();
            let (m, v) = moments(hazard, repeat);
            assert!((mean / m - 1.0).abs() < 1e-13 && (variance / v - 1.0).abs() < 1e-13);
        }
    }
}
