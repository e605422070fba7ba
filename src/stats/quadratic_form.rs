//! The size of a deviation against its covariance, for tests that compare several groups or bands at once.

/// What v' M^- v needs besides its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct QuadraticForm {
    /// v' M^- v.
    pub value: f64,
    /// The rank of M: the degrees of freedom when M is the covariance of v.
    pub rank: usize,
}

/// v' M^- v for a symmetric, positive semidefinite M of which v lies in the range, by elimination with the largest
/// remaining diagonal first; rows that a sum constraint makes dependent count no degree of freedom.
///
/// Elimination stops where the diagonal falls below 1e-10 of its own start.
pub fn quadratic_form(v: &[f64], matrix: &[Vec<f64>]) -> QuadraticForm {
    let size = v.len().min(matrix.len());
    let mut v = v.to_vec();
    let mut m: Vec<Vec<f64>> = matrix.to_vec();
    let diagonal =
        |m: &[Vec<f64>], i: usize| m.get(i).and_then(|row| row.get(i)).copied().unwrap_or(0.0);
    let start: Vec<f64> = (0..size).map(|i| diagonal(&m, i)).collect();
    let mut open: Vec<usize> = (0..size).collect();
    let (mut value, mut rank) = (0.0, 0);
    while let Some(pivot) = open
        .iter()
        .copied()
        .max_by(|&a, &b| diagonal(&m, a).total_cmp(&diagonal(&m, b)).then(b.cmp(&a)))
    {
        let size = diagonal(&m, pivot);
        if !(size > 0.0 && size > 1e-10 * start.get(pivot).copied().unwrap_or(0.0)) {
            break;
        }
        open.retain(|&i| i != pivot);
        let (row, entry) = (
            m.get(pivot).cloned().unwrap_or_default(),
            v.get(pivot).copied().unwrap_or(0.0),
        );
        value += entry * entry / size;
        rank += 1;
        for &i in &open {
            let factor = row.get(i).copied().unwrap_or(0.0) / size;
            if let Some(entry_i) = v.get_mut(i) {
                *entry_i -= factor * entry;
            }
            if let Some(row_i) = m.get_mut(i) {
                for (cell, from) in row_i.iter_mut().zip(&row) {
                    *cell -= factor * from;
                }
            }
        }
    }
    QuadraticForm { value, rank }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_inverse_by_hand() {
        // Inverse of [[2, 1], [1, 3]] is [[3, -1], [-1, 2]] / 5.
        let form = quadratic_form(&[1.0, 2.0], &[vec![2.0, 1.0], vec![1.0, 3.0]]);
        assert!((form.value - (3.0 - 4.0 + 8.0) / 5.0).abs() < 1e-15);
        assert_eq!(form.rank, 2);
    }

    #[test]
    fn a_sum_constraint_costs_one_degree_and_leaves_the_value() {
        // Multinomial covariance n (diag p - p p'): the form is Pearson's chi-square, sum (O - E)^2 / E.
        let (p, n) = ([0.2, 0.3, 0.5], 40.0);
        let covariance: Vec<Vec<f64>> = (0..3)
            .map(|i| {
                (0..3)
                    .map(|j| n * p[i] * (f64::from(u8::from(i == j)) - p[j]))
                    .collect()
            })
            .collect();
        let v = [3.0, -1.0, -2.0];
        let expected: f64 = v.iter().zip(p).map(|(v, p)| v * v / (n * p)).sum();
        let form = quadratic_form(&v, &covariance);
        assert!(
            (form.value / expected - 1.0).abs() < 1e-13,
            "{form:?} {expected}"
        );
        assert_eq!(form.rank, 2);
    }

    #[test]
    fn nothing_varies_means_no_degree() {
        assert_eq!(quadratic_form(&[0.0], &[vec![0.0]]).rank, 0);
        assert_eq!(quadratic_form(&[], &[]).rank, 0);
    }
}
