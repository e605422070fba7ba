//! Adjusted p-values against R's `p.adjust` and an independent Python implementation.

use approx::assert_relative_eq;
use boretally::stats::multiple::{METHODS, rejects};

/// The 15 p-values of Benjamini & Hochberg 1995, section 3.2.
const P: [f64; 15] = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719,
    0.6528, 0.7590, 1.0,
];

/// Computed with R 4.2 `p.adjust`; Python (NumPy) from the definitions agrees to 1e-15.
const EXPECTED: &[(&str, [f64; 15])] = &[
    (
        "bonferroni",
        [
            0.0015, 0.006, 0.0285, 0.1425, 0.3015, 0.417, 0.447, 0.516, 0.6885, 1.0, 1.0, 1.0, 1.0,
            1.0, 1.0,
        ],
    ),
    (
        "holm",
        [
            0.0015, 0.0056, 0.0247, 0.114, 0.2211, 0.278, 0.278, 0.278, 0.3213, 1.0, 1.0, 1.0, 1.0,
            1.0, 1.0,
        ],
    ),
    (
        "hochberg",
        [
            0.0015, 0.0056, 0.0247, 0.114, 0.2211, 0.2682, 0.2682, 0.2752, 0.3213, 1.0, 1.0, 1.0,
            1.0, 1.0, 1.0,
        ],
    ),
    (
        "benjamini_hochberg",
        [
            0.0015,
            0.003,
            0.0095,
            0.035625,
            0.0603,
            0.06385714285714286,
            0.06385714285714286,
            0.0645,
            0.0765,
            0.486,
            0.5811818181818181,
            0.714875,
            0.7532307692307693,
            0.8132142857142857,
            1.0,
        ],
    ),
    (
        "benjamini_yekutieli",
        [
            0.00497734348984349,
            0.009954686979686982,
            0.031523175435675434,
            0.11821190788378289,
            0.2000892082917083,
            0.21189262285333715,
            0.21189262285333715,
            0.2140257700632701,
            0.253844517982018,
            1.0,
            1.0,
            1.0,
            1.0,
            1.0,
            1.0,
        ],
    ),
];

/// Rejections at 0.05; Benjamini & Hochberg 1995 print 4 for theirs and 3 for Bonferroni's.
const REJECTED: &[(&str, usize)] = &[
    ("bonferroni", 3),
    ("holm", 3),
    ("hochberg", 3),
    ("benjamini_hochberg", 4),
    ("benjamini_yekutieli", 3),
];

#[test]
fn adjusted_values_match_r() {
    assert_eq!(METHODS.len(), EXPECTED.len());
    for method in METHODS {
        let (_, expected) = EXPECTED
            .iter()
            .find(|e| e.0 == method.id)
            .expect("every method has its row");
        let adjusted = (method.function)(&P).unwrap();
        for (got, want) in adjusted.iter().zip(expected) {
            assert_relative_eq!(*got, *want, max_relative = 1e-12);
        }
    }
}

#[test]
fn rejections_match_the_paper() {
    for method in METHODS {
        let (_, expected) = REJECTED
            .iter()
            .find(|e| e.0 == method.id)
            .expect("every method has its row");
        let adjusted = (method.function)(&P).unwrap();
        assert_eq!(
            adjusted.iter().filter(|&&p| rejects(p, 0.05)).count(),
            *expected,
            "{}",
            method.id
        );
    }
}
