//! Sums of a smooth function over many points, as sums over a few nodes.
//!
//! Within an interval a smooth function is its interpolation at Chebyshev's nodes to the last digits, so that its weighted sum over any
//! points there is a sum over the nodes, with weights that depend on the points alone (Trefethen 2013, Approximation Theory and
//! Approximation Practice, theorems 5.2 and 8.2).

/// Nodes of an interval.
pub(super) const NODES: usize = 16;

/// Points whose polynomials are computed side by side.
const LANES: usize = 8;

/// The sums over points x in [-1, 1] of weight T_j(x), with Chebyshev's polynomials T_0, T_1, ...; those of points put together are sums.
pub(super) type Moments = [f64; NODES];

/// Chebyshev nodes of the first kind on [-1, 1], from 1 down to -1.
pub(super) fn nodes() -> [f64; NODES] {
    let mut nodes = [0.0; NODES];
    for (k, node) in nodes.iter_mut().enumerate() {
        *node = (std::f64::consts::PI * (2 * k + 1) as f64 / (2 * NODES) as f64).cos();
    }
    nodes
}

/// The moments of points (x, weight).
pub(super) fn moments(mut points: impl Iterator<Item = (f64, f64)>) -> Moments {
    let mut lanes = [[0.0; LANES]; NODES];
    loop {
        let (mut x, mut weight, mut filled) = ([0.0; LANES], [0.0; LANES], false);
        for (place, of) in x.iter_mut().zip(&mut weight) {
            let Some(point) = points.next() else {
                break;
            };
            (*place, *of) = point;
            filled = true;
        }
        if !filled {
            break;
        }
        let (mut before, mut now) = (x, [1.0; LANES]);
        for sums in &mut lanes {
            let all = sums.iter_mut().zip(&weight).zip(&x);
            for (((sum, w), x), (before, now)) in all.zip(before.iter_mut().zip(&mut now)) {
                *sum += w * *now;
                (*before, *now) = (*now, 2.0 * x * *now - *before);
            }
        }
    }
    lanes.map(|sums| sums.iter().sum())
}

/// Adds the moments of further points.
pub(super) fn add(to: &mut Moments, more: &Moments) {
    for (sum, moment) in to.iter_mut().zip(more) {
        *sum += moment;
    }
}

/// Weights at the nodes in place of points with these moments: (m_0 + 2 sum T_j(node) m_j) / NODES, since the polynomials are
/// orthogonal over the nodes.
pub(super) fn weights(nodes: &[f64; NODES], moments: &Moments) -> [f64; NODES] {
    nodes.map(|node| {
        let (mut before, mut now) = (1.0, node);
        let mut sum = 0.0;
        for (j, moment) in moments.iter().enumerate() {
            if j == 0 {
                sum += moment;
                continue;
            }
            sum += 2.0 * now * moment;
            (before, now) = (now, 2.0 * node * now - before);
        }
        sum / NODES as f64
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_over_nodes_are_sums_over_points() {
        let points: Vec<(f64, f64)> = (0..53u32)
            .map(|i| {
                let x = 2.0 * f64::from(i * 37 % 53) / 52.0 - 1.0;
                (x, f64::from(i % 7) - 2.0)
            })
            .collect();
        let (some, others) = points.split_at(20);
        let mut all = moments(some.iter().copied());
        add(&mut all, &moments(others.iter().copied()));
        let nodes = nodes();
        let weights = weights(&nodes, &all);
        // A polynomial of the highest degree that is exact, and a function whose nearest singularity is far.
        for f in [|x: f64| (1.0 - x).powi(15), |x: f64| (1.3 * x).exp()] {
            let points: f64 = points.iter().map(|(x, weight)| weight * f(*x)).sum();
            let nodes: f64 = nodes
                .iter()
                .zip(weights)
                .map(|(x, weight)| weight * f(*x))
                .sum();
            assert!((points / nodes - 1.0).abs() < 1e-12, "{points} {nodes}");
        }
        assert_eq!(moments(std::iter::empty()), [0.0; NODES]);
    }
}
