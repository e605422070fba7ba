//! Complex numbers, as far as generating functions need them.

use std::ops::{Add, AddAssign, Mul, Neg, Sub};

/// re + i im.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Complex {
    /// Real part.
    pub re: f64,
    /// Imaginary part.
    pub im: f64,
}

impl Complex {
    /// 1.
    pub const ONE: Self = Self { re: 1.0, im: 0.0 };

    /// A real number.
    pub const fn real(re: f64) -> Self {
        Self { re, im: 0.0 }
    }

    /// e^(i angle).
    pub fn on_circle(angle: f64) -> Self {
        let (im, re) = angle.sin_cos();
        Self { re, im }
    }

    /// e^z.
    pub fn exp(self) -> Self {
        Self::on_circle(self.im).scaled(self.re.exp())
    }

    /// The principal value of ln(1 + z), without loss near z = 0; minus infinity at z = -1.
    pub fn ln_1p(self) -> Self {
        let Self { re, im } = self;
        // |1 + z|^2 - 1.
        let excess = re * (2.0 + re) + im * im;
        Self {
            re: 0.5 * excess.ln_1p(),
            im: im.atan2(1.0 + re),
        }
    }

    /// 1 / z.
    pub fn inverse(self) -> Self {
        let square = self.re * self.re + self.im * self.im;
        Self {
            re: self.re / square,
            im: -self.im / square,
        }
    }

    /// Times a real number.
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            re: self.re * factor,
            im: self.im * factor,
        }
    }

    /// |z|.
    pub fn abs(self) -> f64 {
        self.re.hypot(self.im)
    }
}

impl Add for Complex {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            re: self.re + other.re,
            im: self.im + other.im,
        }
    }
}

impl AddAssign for Complex {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Complex {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Neg for Complex {
    type Output = Self;

    fn neg(self) -> Self {
        self.scaled(-1.0)
    }
}

impl Mul for Complex {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        Self {
            re: self.re * other.re - self.im * other.im,
            im: self.re * other.im + self.im * other.re,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logarithm_and_exponential_undo_each_other() {
        for z in [
            Complex { re: 0.3, im: -0.8 },
            Complex {
                re: 1e-12,
                im: 1e-12,
            },
            Complex { re: -0.9, im: 0.01 },
        ] {
            let back = z.ln_1p().exp() - Complex::ONE;
            assert!((back - z).abs() < 1e-15, "{z:?}");
        }
        let tiny = Complex { re: 1e-17, im: 0.0 };
        assert_eq!(tiny.ln_1p().re, 1e-17);
    }

    #[test]
    fn inverse_times_itself_is_one() {
        let z = Complex { re: 3.0, im: -4.0 };
        assert!((z * z.inverse() - Complex::ONE).abs() < 1e-15);
        assert_eq!(z.abs(), 5.0);
    }
}
