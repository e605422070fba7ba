//! A likelihood of many lives in few terms.
//!
//! Lives that enter or leave unfailed contribute sums of w ln S(x) over logarithms of distance x, and ln S is smooth in x. Within a
//! narrow bin it is its interpolation at Chebyshev nodes to the last digits, so that the sum over all lives of a bin is a sum over
//! its nodes, with weights that do not depend on the parameters (Trefethen 2013, Approximation Theory and Approximation Practice,
//! theorems 5.2 and 8.2). The likelihood of 100 000 lives then costs as much as that of a thousand. Failures keep their own terms.

use super::observed::{Observed, Term};

/// Fewer terms than this are left as they are.
const MANY: usize = 2000;

/// Width of a bin in ln distance.
const WIDTH: f64 = 0.1;

/// Nodes of a bin. The error is at most 2 (WIDTH / 4 sigma)^NODES / NODES! of the largest term of a Weibull: 1e-12 at a shape of 20.
const NODES: usize = 12;

impl Observed {
    /// The same likelihood in fewer terms, if there are many. Log-likelihood and derivatives agree to about 1e-12 for shapes up to 20.
    pub fn condensed(self) -> Self {
        if self.terms().len() < MANY {
            return self;
        }
        let bin = |term: &Term| (term.log_distance / WIDTH).floor();
        let nodes = nodes();
        let mut terms: Vec<Term> = Vec::new();
        for chunk in self.terms().chunk_by(|a, b| bin(a) == bin(b)) {
            let failed = |term: &&Term| term.failed + term.failed_before > 0.0;
            let smooth: Vec<&Term> = chunk.iter().filter(|term| !failed(term)).collect();
            if smooth.len() <= NODES {
                terms.extend_from_slice(chunk);
                continue;
            }
            terms.extend(chunk.iter().filter(failed));
            let start = chunk.first().map_or(0.0, bin) * WIDTH;
            terms.extend(at_nodes(&nodes, start, &smooth));
        }
        self.with_terms(terms)
    }
}

/// Chebyshev nodes of the first kind on [-1, 1] with their barycentric weights.
fn nodes() -> Vec<(f64, f64)> {
    let angle = |k: usize| std::f64::consts::PI * (2 * k + 1) as f64 / (2 * NODES) as f64;
    let sign = |k: usize| if k.is_multiple_of(2) { 1.0 } else { -1.0 };
    (0..NODES)
        .map(|k| (angle(k).cos(), sign(k) * angle(k).sin()))
        .collect()
}

/// The weights of a bin's lives moved to its nodes: each life gives node k its interpolation weight l_k(x).
fn at_nodes(nodes: &[(f64, f64)], start: f64, terms: &[&Term]) -> Vec<Term> {
    let mut weights = vec![0.0; nodes.len()];
    for term in terms {
        let x = 2.0 * (term.log_distance - start) / WIDTH - 1.0;
        if let Some(k) = nodes.iter().position(|(node, _)| *node == x) {
            if let Some(weight) = weights.get_mut(k) {
                *weight += term.survived;
            }
            continue;
        }
        let sum: f64 = nodes.iter().map(|(node, w)| w / (x - node)).sum();
        for (weight, (node, w)) in weights.iter_mut().zip(nodes) {
            *weight += term.survived * w / (x - node) / sum;
        }
    }
    let place = |node: f64| start + 0.5 * (node + 1.0) * WIDTH;
    nodes
        .iter()
        .zip(weights)
        .map(|((node, _), survived)| Term {
            log_distance: place(*node),
            failed: 0.0,
            survived,
            failed_before: 0.0,
        })
        .collect()
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
            8 * few.terms().len() < all.terms().len(),
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
