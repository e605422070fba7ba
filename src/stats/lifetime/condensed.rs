//! A likelihood of many lives in few terms.
//!
//! Every life contributes w g(x) with x the logarithm of a distance and g = ln S or ln f, which are smooth in x. Within a narrow bin g is
//! its interpolation at Chebyshev nodes to the last digits, so that the sum over all lives of a bin is a sum over its nodes, with
//! weights that do not depend on the parameters (Trefethen 2013, Approximation Theory and Approximation Practice, theorems 5.2 and
//! 8.2). The likelihood of 100 000 lives then costs as much as that of a few hundred.

use super::observed::{Observed, Term};

/// Fewer terms than this are left as they are.
const MANY: usize = 1000;

/// Width of a bin in ln distance, within a factor e of the largest distance; twice as wide down to a factor e^3, four times below.
const WIDTH: f64 = 0.25;

/// Nodes of a bin. Of a Weibull of shape b the error in a bin of width w, that ends L below the logarithm of the largest distance, is at most
/// 2 (b w / 4)^NODES / NODES! e^(-b L) of the largest term: 3e-12 at a shape of 20 near the largest distance, and below 1e-15 at
/// any shape in the wider bins, where such lives are too short to count. A loglogistic has its nearest singularity at
/// pi / shape beside the real axis: 1e-12 at a shape of 9, 1e-9 at 14.
const NODES: usize = 16;

/// Lives whose polynomials are computed side by side.
const LANES: usize = 8;

impl Observed {
    /// The same likelihood in fewer terms, if there are many, for fits and limits alone: the terms are no distances of lives any
    /// more, and weights can be negative. Log-likelihood and derivatives agree to about 1e-12 for shapes met in practice.
    pub fn condensed(self) -> Self {
        if self.terms().len() < MANY {
            return self;
        }
        let end = self.terms().last().map_or(0.0, |term| term.log_distance);
        let nodes = nodes();
        let mut terms: Vec<Term> = Vec::new();
        let alike = |a: &Term, b: &Term| bin(end, a) == bin(end, b);
        for chunk in self.terms().chunk_by(alike) {
            let smooth = |term: &Term| term.failed_before == 0.0;
            if chunk.len() <= NODES || !chunk.iter().all(smooth) {
                terms.extend_from_slice(chunk);
                continue;
            }
            let (start, width) = chunk.first().map_or((0.0, WIDTH), |term| bin(end, term));
            terms.extend(at_nodes(&nodes, start, width, chunk));
        }
        self.with_terms(terms)
    }
}

/// Start and width of the bin of a life, counted down from the end of all.
fn bin(end: f64, term: &Term) -> (f64, f64) {
    let below = end - term.log_distance;
    let (from, width) = match below {
        near if near < 1.0 => (0.0, WIDTH),
        middle if middle < 3.0 => (1.0, 2.0 * WIDTH),
        _ => (3.0, 4.0 * WIDTH),
    };
    let number = ((below - from) / width).floor();
    (end - from - (number + 1.0) * width, width)
}

/// Chebyshev nodes of the first kind on [-1, 1].
fn nodes() -> [f64; NODES] {
    let mut nodes = [0.0; NODES];
    for (k, node) in nodes.iter_mut().enumerate() {
        *node = (std::f64::consts::PI * (2 * k + 1) as f64 / (2 * NODES) as f64).cos();
    }
    nodes
}

/// The weights of a bin's lives moved to its nodes: each life gives node k its interpolation weight l_k(x).
fn at_nodes(nodes: &[f64; NODES], start: f64, width: f64, terms: &[Term]) -> Vec<Term> {
    let place = |term: &Term| 2.0 * (term.log_distance - start) / width - 1.0;
    let survived = terms.iter().filter(|term| term.survived != 0.0);
    let failed = terms.iter().filter(|term| term.failed != 0.0);
    let survived = at_each(nodes, survived.map(|term| (place(term), term.survived)));
    let failed = at_each(nodes, failed.map(|term| (place(term), term.failed)));
    let weights = survived.into_iter().zip(failed);
    // Nodes fall from 1 to -1; terms rise.
    nodes
        .iter()
        .zip(weights)
        .rev()
        .map(|(node, (survived, failed))| Term {
            log_distance: start + 0.5 * (node + 1.0) * width,
            failed,
            survived,
            failed_before: 0.0,
        })
        .collect()
}

/// Weights at nodes of points (x, weight): with the moments m_j = sum w T_j(x) of Chebyshev's polynomials,
/// (m_0 + 2 sum T_j(node) m_j) / NODES, since the polynomials are orthogonal over the nodes.
fn at_each(nodes: &[f64; NODES], points: impl Iterator<Item = (f64, f64)>) -> [f64; NODES] {
    let moments = moments(points);
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

fn moments(mut points: impl Iterator<Item = (f64, f64)>) -> [f64; NODES] {
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

#[cfg(test)]
mod tests {
    use super::super::family::Family;
    use super::super::fit::fit;
    use super::super::likelihood::{Parameters, likelihood};
    use super::super::likelihood_interval;
    use super::*;
    use crate::stats::survival::{Life, RiskTable};

    /// Lives spread over two decades of distance, most of them seen late and lost unfailed.
    fn many() -> Observed {
        let lives: Vec<Life> = (0..30_000u32)
            .map(|i| {
                let spread = |by: u32| f64::from(i.wrapping_mul(by) % 10_007) / 10_007.0;
                let entry = 300.0 * spread(7919);
                let exit = entry + 1.0 + 250.0 * spread(104_729);
                Life {
                    entry,
                    exit,
                    failed: i % 37 == 0,
                }
            })
            .collect();
        Observed::from_table(&RiskTable::from_lives(&lives).unwrap().table)
    }

    #[test]
    fn few_terms_give_the_likelihood_of_all() {
        let all = many();
        let few = all.clone().condensed();
        assert!(
            20 * few.terms().len() < all.terms().len(),
            "{} of {}",
            few.terms().len(),
            all.terms().len()
        );
        for family in Family::ALL {
            for (location, shape) in [(6.0, 0.7f64), (5.5, 2.0), (6.5, 4.0), (6.0, 9.0)] {
                let at = Parameters {
                    location,
                    log_scale: -shape.ln(),
                };
                let (a, b) = (likelihood(family, &all, at), likelihood(family, &few, at));
                let same = |x: f64, y: f64, size: f64| (x - y).abs() <= 1e-11 * size;
                let size = a.value.abs();
                assert!(same(a.value, b.value, size), "{family:?} {shape}");
                for (x, y) in a.gradient.iter().zip(b.gradient) {
                    assert!(
                        same(*x, y, size * shape * shape),
                        "{family:?} {shape} {x} {y}"
                    );
                }
                for (x, y) in a
                    .hessian
                    .as_flattened()
                    .iter()
                    .zip(b.hessian.as_flattened())
                {
                    let size = size * shape.powi(4) * 10.0;
                    assert!(same(*x, *y, size), "{family:?} {shape} {x} {y}");
                }
            }
        }
    }

    #[test]
    fn fits_and_limits_are_those_of_all_lives() {
        let all = many();
        let few = all.clone().condensed();
        for family in Family::ALL {
            let (a, b) = (fit(family, &all).unwrap(), fit(family, &few).unwrap());
            assert!((a.parameters.location - b.parameters.location).abs() < 1e-9);
            assert!((a.parameters.log_scale - b.parameters.log_scale).abs() < 1e-9);
            let limits =
                |fit, observed| likelihood_interval::quantile(fit, observed, 0.1, 0.95).unwrap();
            let (x, y) = (limits(&a, &all), limits(&b, &few));
            assert!((x.lower.unwrap() / y.lower.unwrap() - 1.0).abs() < 1e-8);
            assert!((x.upper.unwrap() / y.upper.unwrap() - 1.0).abs() < 1e-8);
        }
    }
}
