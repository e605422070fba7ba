//! Random draws for invented fleets: one ChaCha8 stream a vehicle, so that a vehicle is the same whatever was made before it.
//!
//! Only `next_u64` of the generator is used and every distribution is spelled out here, so that bytes do not change when
//! a library changes its sampling.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// What a stream is for; two purposes of one vehicle never share draws, so that mess does not change lives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Usage, visits, failures and casework.
    Life,
    /// Names, phone numbers and other text beside the records.
    Person,
    /// Damage done to rows of the export.
    Mess,
    /// Re-exports and later edits.
    Edit,
}

/// A stream of draws.
#[derive(Debug, Clone)]
pub struct Draw {
    generator: ChaCha8Rng,
}

impl Draw {
    /// The stream of one vehicle and purpose under a seed: ChaCha8 keyed by the seed, its stream number the vehicle's.
    pub fn new(seed: u64, vehicle: u64, purpose: Purpose) -> Self {
        let mut key = [0u8; 32];
        key[..8].copy_from_slice(&seed.to_le_bytes());
        key[8] = purpose as u8;
        key[16..32].copy_from_slice(b"boretally synth\0");
        let mut generator = ChaCha8Rng::from_seed(key);
        generator.set_stream(vehicle);
        Self { generator }
    }

    /// Uniform on [0, 1), a multiple of 2^-53.
    pub fn uniform(&mut self) -> f64 {
        const SCALE: f64 = 1.0 / (1u64 << 53) as f64;
        (self.generator.next_u64() >> 11) as f64 * SCALE
    }

    /// Uniform on [low, high).
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Uniform whole number on low..=high.
    pub fn whole(&mut self, low: i64, high: i64) -> i64 {
        if high <= low {
            return low;
        }
        let width = (high - low + 1) as f64;
        (low + (self.uniform() * width).floor() as i64).min(high)
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.uniform() < p
    }

    /// Exponential with mean 1: `-ln(1 - u)`.
    pub fn exponential(&mut self) -> f64 {
        -(1.0 - self.uniform()).ln()
    }

    /// Standard normal (Box and Muller 1958, one of the pair).
    pub fn normal(&mut self) -> f64 {
        let radius = (2.0 * self.exponential()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// Lognormal by its median and the standard deviation of its logarithm.
    pub fn lognormal(&mut self, median: f64, sigma: f64) -> f64 {
        median * (sigma * self.normal()).exp()
    }

    /// Index drawn in proportion to the weights; 0 when they sum to nothing.
    pub fn weighted(&mut self, weights: &[f64]) -> usize {
        let total: f64 = weights.iter().sum();
        let mut left = self.uniform() * total;
        for (i, w) in weights.iter().enumerate() {
            if left < *w {
                return i;
            }
            left -= w;
        }
        // Rounding can leave a crumb: it belongs to the last index that can be drawn at all.
        weights.iter().rposition(|w| *w > 0.0).unwrap_or(0)
    }

    /// One item of a list; `None` only when it is empty.
    pub fn pick<'a, T>(&mut self, items: &'a [T]) -> Option<&'a T> {
        items.get(self.whole(0, items.len() as i64 - 1) as usize)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_do_not_depend_on_each_other() {
        let first: Vec<f64> = {
            let mut d = Draw::new(7, 3, Purpose::Life);
            (0..5).map(|_| d.uniform()).collect()
        };
        let mut other = Draw::new(7, 2, Purpose::Life);
        other.uniform();
        let mut again = Draw::new(7, 3, Purpose::Life);
        assert_eq!(first, (0..5).map(|_| again.uniform()).collect::<Vec<_>>());
        let mut mess = Draw::new(7, 3, Purpose::Mess);
        assert_ne!(first[0], mess.uniform());
        assert_ne!(first[0], Draw::new(8, 3, Purpose::Life).uniform());
    }

    #[test]
    fn moments_are_those_of_the_distributions() {
        let mut d = Draw::new(1, 0, Purpose::Life);
        let n = 20_000;
        let mut sums = [0.0; 4];
        for _ in 0..n {
            let (u, e, z) = (d.uniform(), d.exponential(), d.normal());
            sums[0] += u;
            sums[1] += e;
            sums[2] += z;
            sums[3] += z * z;
        }
        let mean = sums.map(|s| s / f64::from(n));
        // Closed forms 1/2, 1, 0, 1; five standard errors of the mean at n = 20,000.
        assert!((mean[0] - 0.5).abs() < 0.0103, "{mean:?}");
        assert!((mean[1] - 1.0).abs() < 0.036, "{mean:?}");
        assert!(mean[2].abs() < 0.036, "{mean:?}");
        assert!((mean[3] - 1.0).abs() < 0.05, "{mean:?}");
    }

    #[test]
    fn weights_of_zero_are_never_drawn() {
        let mut d = Draw::new(1, 0, Purpose::Life);
        for _ in 0..1000 {
            let i = d.weighted(&[0.0, 1.0, 3.0, 0.0]);
            assert!(i == 1 || i == 2);
        }
        assert_eq!(d.weighted(&[0.0, 0.0]), 0);
        assert_eq!(d.whole(4, 4), 4);
        assert_eq!(d.pick::<u8>(&[]), None);
    }
}
