//! Cumulants of counts, amounts and totals in closed form, and a quantile from them.

/// Mean, variance and third central moment (the first three cumulants).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Moments {
    /// E[X].
    pub mean: f64,
    /// Var[X].
    pub variance: f64,
    /// E[(X - E X)^3].
    pub third: f64,
}

impl Moments {
    /// Of values with weights that sum to 1.
    pub fn of(values: impl Iterator<Item = (f64, f64)> + Clone) -> Self {
        let mean: f64 = values.clone().map(|(x, w)| w * x).sum();
        let about = |power| {
            values
                .clone()
                .map(|(x, w)| w * (x - mean).powi(power))
                .sum()
        };
        Self {
            mean,
            variance: about(2),
            third: about(3),
        }
    }

    /// Of the sum of a random number of independent amounts: with the count's cumulants k1, k2, k3 and the amount's m, v, c,
    /// k1 m, k1 v + k2 m^2 and k1 c + 3 k2 m v + k3 m^3 (derivatives of ln G(M(t)) at 0).
    pub fn of_total(count: Self, amount: Self) -> Self {
        let Self {
            mean: m,
            variance: v,
            third: c,
        } = amount;
        Self {
            mean: count.mean * m,
            variance: count.mean * v + count.variance * m * m,
            third: count.mean * c + 3.0 * count.variance * m * v + count.third * m * m * m,
        }
    }

    /// Of the sum with something independent.
    pub fn plus(self, other: Self) -> Self {
        Self {
            mean: self.mean + other.mean,
            variance: self.variance + other.variance,
            third: self.third + other.third,
        }
    }

    /// E[(X - E X)^3] / Var[X]^1.5; 0 without variance.
    pub fn skewness(&self) -> f64 {
        if self.variance > 0.0 {
            self.third / self.variance.powf(1.5)
        } else {
            0.0
        }
    }

    /// The normal-power approximation of a quantile, for the standard normal deviate `z`: mean + sd (z + skewness (z^2 - 1) / 6)
    /// (Beard, Pentikainen & Pesonen 1984, Risk Theory, section 3.11). Fit for z >= 1.
    pub fn normal_power(&self, z: f64) -> f64 {
        self.mean + self.variance.sqrt() * (z + self.skewness() * (z * z - 1.0) / 6.0)
    }
}
