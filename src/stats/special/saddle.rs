//! Tails of gamma and beta distributions with large shapes: an expansion about the saddle point, uniform in the argument.
//!
//! Gamma and beta densities share one form. With the beta exponents alpha = a - 1, beta = b - 1, n = alpha + beta, mode
//! p = alpha / n, q = 1 - p, and t = p + p q u, the density in u is proportional to exp(-m xi^2 / 2) with m = n p q, where
//! xi^2 / 2 is the deviance of t from p per unit of m. The map obeys u u' = xi (1 + (q - p) u - p q u^2) (prime: by xi),
//! so u = xi + ... has Taylor coefficients by a recurrence. The gamma distribution is the limit p -> 0: skew 1, product 0.
//! A tail is then the sum over k of (k + 1) u_(k+1) times the incomplete Gaussian moment of order k.
//!
//! The idea is Temme's (1979, SIAM J. Math. Anal. 10, 757; DLMF 8.12 and 8.18(ii)) as applied by DiDonato and Morris (1992,
//! ACM TOMS 18, 360, section 9); the common scaling by p q that serves gamma and beta with one recurrence is worked out here.
//! The map has its nearest singularity at |xi| = 2 sqrt(pi) or beyond, so with |xi| <= 0.7 and m >= 40 thirty terms reach
//! full double precision.

use std::f64::consts::PI;

use super::normal::norm_sf;

/// Largest |xi| the expansion is used for.
pub const LARGEST_XI: f64 = 0.7;
/// Smallest m the expansion is used for.
pub const SMALLEST_M: f64 = 40.0;

const TERMS: usize = 40;

/// What the expansion depends on besides the argument.
#[derive(Debug, Clone, Copy)]
pub struct Saddle {
    /// m = n p q, the large parameter: alpha beta / (alpha + beta), or a - 1 for gamma.
    pub m: f64,
    /// q - p; 1 for gamma.
    pub skew: f64,
    /// p q; 0 for gamma.
    pub product: f64,
}

/// Which tail is wanted: the one below the argument (argument below the mode) or above it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Probability below the argument.
    Lower,
    /// Probability above the argument.
    Upper,
}

impl Saddle {
    /// sqrt(m / 2 pi) times the integral of exp(-m xi^2/2) du over the tail that starts at deviance `energy` = m xi^2 / 2
    /// and leads away from the mode on the given side.
    pub fn tail(&self, energy: f64, side: Side) -> f64 {
        let mut map = Map::new();
        tail(self.m, energy, side, |k| {
            map.find(k, self.skew, self.product);
            map.u[k + 1]
        })
    }
}

/// The same for a gamma distribution, skew 1 and product 0, whose map is the same for all shapes.
pub fn gamma_tail(m: f64, energy: f64, side: Side) -> f64 {
    tail(m, energy, side, |k| GAMMA.u[k + 1])
}

/// The sum over k of (k + 1) u_(k+1) times the moment of order k; `next` gives u_(k+1), asked for in order from k = 1.
fn tail(m: f64, energy: f64, side: Side, mut next: impl FnMut(usize) -> f64) -> f64 {
    let xi = (2.0 * energy / m).sqrt();
    let step = if side == Side::Upper { 1.0 } else { -1.0 };
    let gauss = (-energy).exp() / (2.0 * PI * m).sqrt();
    // moments[k % 2]: incomplete moment of order k.
    let mut moments = [norm_sf((2.0 * energy).sqrt()), gauss];
    let mut sum = moments[0];
    let mut previous = sum;
    let (mut power, mut sign) = (1.0, 1.0);
    for k in 1..TERMS {
        let u = next(k);
        if k >= 2 {
            power *= xi;
            moments[k % 2] = power * gauss + (k - 1) as f64 / m * moments[k % 2];
        }
        sign *= step;
        let term = sign * (k + 1) as f64 * u * moments[k % 2];
        sum += term;
        if term.abs() + previous.abs() < 1e-17 * sum {
            break;
        }
        previous = term;
    }
    sum
}

/// Taylor coefficients of the map u(xi) and of its square.
struct Map {
    u: [f64; TERMS + 3],
    s: [f64; TERMS + 3],
}

/// Of the gamma distribution.
static GAMMA: Map = {
    let mut map = Map::new();
    let mut k = 1;
    while k < TERMS {
        map.find(k, 1.0, 0.0);
        k += 1;
    }
    map
};

impl Map {
    const fn new() -> Self {
        let (mut u, mut s) = ([0.0; TERMS + 3], [0.0; TERMS + 3]);
        u[1] = 1.0;
        s[2] = 1.0;
        Self { u, s }
    }

    /// Finds u_(k+1) from those before it.
    const fn find(&mut self, k: usize, skew: f64, product: f64) {
        let order = k + 2;
        self.s[order] = 2.0 * (skew * self.u[k] - product * self.s[k]) / order as f64;
        self.u[k + 1] = 0.5 * (self.s[order] - convolution(&self.u, order));
    }
}

/// Sum of u_j u_(order - j) over j = 2 .. order - 2.
const fn convolution(u: &[f64; TERMS + 3], order: usize) -> f64 {
    let mut sum = 0.0;
    let mut j = 2;
    while 2 * j < order {
        sum += u[j] * u[order - j];
        j += 1;
    }
    sum *= 2.0;
    if 2 * j == order {
        sum += u[j] * u[j];
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mode_of_a_symmetric_beta_halves_it() {
        let saddle = Saddle {
            m: 50.0,
            skew: 0.0,
            product: 0.25,
        };
        let (lower, upper) = (saddle.tail(0.0, Side::Lower), saddle.tail(0.0, Side::Upper));
        assert_eq!(lower, upper);
    }

    #[test]
    fn both_tails_at_the_mode_of_a_gamma_make_one() {
        // Integral of t^k e^-t / k! over both sides: 1 / sqrt(m/2pi)-scaled total is exp(stirling_error(m)).
        let m = 60.0;
        let total = gamma_tail(m, 0.0, Side::Lower) + gamma_tail(m, 0.0, Side::Upper);
        let expected = super::super::stirling::stirling_error(m).exp();
        assert!(
            (total / expected - 1.0).abs() < 1e-15,
            "{total} against {expected}"
        );
    }
}
