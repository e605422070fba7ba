//! The discrete Fourier transform of a power of two of values (Cooley & Tukey 1965).

use super::complex::Complex;

/// Replaces values x by X with X_k = sum_j x_j e^(-2 pi i j k / n). The length must be a power of two.
pub(super) fn transform(values: &mut [Complex]) {
    let n = values.len();
    if n < 2 {
        return;
    }
    let bits = n.trailing_zeros();
    for i in 0..n {
        let j = i.reverse_bits() >> (usize::BITS - bits);
        if i < j {
            values.swap(i, j);
        }
    }
    // Each root straight from its angle: repeated multiplication would lose digits with the length.
    let roots: Vec<Complex> = (0..n / 2)
        .map(|k| Complex::on_circle(-std::f64::consts::TAU * k as f64 / n as f64))
        .collect();
    let mut half = 1;
    while half < n {
        for block in values.chunks_exact_mut(2 * half) {
            let (low, high) = block.split_at_mut(half);
            let turns = roots.iter().step_by(n / (2 * half));
            for ((a, b), root) in low.iter_mut().zip(high).zip(turns) {
                let turned = *b * *root;
                *b = *a - turned;
                *a += turned;
            }
        }
        half *= 2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equals_the_sum_written_out() {
        for n in [1usize, 2, 8, 32] {
            let values: Vec<Complex> = (0..n)
                .map(|j| Complex {
                    re: (j * j % 7) as f64 - 2.0,
                    im: (j % 3) as f64,
                })
                .collect();
            let mut fast = values.clone();
            transform(&mut fast);
            for (k, got) in fast.iter().enumerate() {
                let mut sum = Complex::default();
                for (j, value) in values.iter().enumerate() {
                    let angle = -std::f64::consts::TAU * (j * k) as f64 / n as f64;
                    sum += *value * Complex::on_circle(angle);
                }
                assert!((*got - sum).abs() < 1e-12, "n {n}, k {k}");
            }
        }
    }
}
