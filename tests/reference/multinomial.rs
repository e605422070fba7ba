//! Tests of equal shares and simultaneous intervals against published and independently computed values.

use approx::assert_relative_eq;
use boretally::stats::equal_shares::{Ordering, chi_square, equal, exact, g_test, monte_carlo};
use boretally::stats::simultaneous::{METHODS, sison_glaz};

/// Counts of Sison & Glaz 1995, example 1.
const SISON_GLAZ: [u64; 7] = [56, 72, 73, 59, 62, 87, 58];

/// Computed with Python 3.11 and SciPy 1.17 from the published formulas. The Sison-Glaz row is confirmed by a 40-digit
/// evaluation (upper end of cell 1: 0.16435573) and by statsmodels to 1e-15; Sison & Glaz 1995 print .0792 and .1644.
const SIMULTANEOUS: &[(&str, [[f64; 2]; 7])] = &[
    (
        "goodman",
        [
            [0.08516723913874685, 0.16626140813046542],
            [0.11453291890488314, 0.2043725826949917],
            [0.11639528922374764, 0.2067275157717936],
            [0.09060567089116035, 0.17347488656505117],
            [0.09607738004815457, 0.18065508759505616],
            [0.142749109163055, 0.23941594337181596],
            [0.08878905812980421, 0.17107419593074089],
        ],
    ),
    (
        "sison_glaz",
        [
            [0.07922912205567452, 0.16435573404025816],
            [0.11349036402569593, 0.19861697601027958],
            [0.11563169164882225, 0.2007583036334059],
            [0.08565310492505354, 0.1707797169096372],
            [0.09207708779443255, 0.1772036997790162],
            [0.145610278372591, 0.23073689035717465],
            [0.08351177730192719, 0.16863838928651084],
        ],
    ),
    (
        "bonferroni_clopper_pearson",
        [
            [0.08279582019710698, 0.16567997519783476],
            [0.1121922063840159, 0.2040013996290307],
            [0.11405758072814522, 0.2063688506122187],
            [0.08823710406872413, 0.17293452354767594],
            [0.09371316357379789, 0.18015495106000362],
            [0.14046326259729822, 0.23922673786586127],
            [0.08641936575960983, 0.17052024105477112],
        ],
    ),
];

#[test]
fn simultaneous_intervals() {
    assert_eq!(METHODS.len(), SIMULTANEOUS.len());
    for method in METHODS {
        let (_, expected) = SIMULTANEOUS
            .iter()
            .find(|e| e.0 == method.id)
            .expect("every method has its row");
        let intervals = (method.function)(&SISON_GLAZ, 0.95).unwrap();
        for (got, [lower, upper]) in intervals.iter().zip(expected) {
            assert_relative_eq!(got.lower, *lower, max_relative = 1e-9);
            assert_relative_eq!(got.upper, *upper, max_relative = 1e-9);
        }
    }
}

/// Evaluated with 40 digits: 0.16435573. Another program's 0.1643361 differs in the fifth digit.
#[test]
fn sison_glaz_with_forty_digits() {
    let upper = sison_glaz(&SISON_GLAZ, 0.95).unwrap()[0].upper;
    assert!((upper - 0.16435573).abs() < 5e-9, "{upper}");
}

/// Computed with SciPy 1.17 (the example of its documentation; printed there 2.0 and .8491) and R 4.2 `chisq.test`.
#[test]
fn chi_square_and_g_with_residuals() {
    let counts = [16, 18, 16, 14, 12, 12];
    let (chi, g) = (
        chi_square(&counts, &equal(6)).unwrap(),
        g_test(&counts, &equal(6)).unwrap(),
    );
    assert_relative_eq!(chi.statistic, 2.0, max_relative = 1e-10);
    assert_relative_eq!(chi.p, 0.8491450360846096, max_relative = 1e-10);
    assert_relative_eq!(g.statistic, 2.006573162632538, max_relative = 1e-10);
    assert_relative_eq!(g.p, 0.8482347677946377, max_relative = 1e-10);
    let pearson = [
        0.3481553119113958,
        0.8703882797784893,
        0.3481553119113958,
        -0.17407765595569769,
        -0.6963106238227912,
        -0.6963106238227912,
    ];
    let standardised = [
        0.3813850356982371,
        0.9534625892455926,
        0.3813850356982371,
        -0.1906925178491183,
        -0.7627700713964737,
        -0.7627700713964737,
    ];
    for i in 0..6 {
        assert_relative_eq!(chi.pearson_residuals[i], pearson[i], max_relative = 1e-10);
        assert_relative_eq!(
            chi.standardised_residuals[i],
            standardised[i],
            max_relative = 1e-10
        );
        assert_relative_eq!(g.pearson_residuals[i], pearson[i], max_relative = 1e-10);
    }
}

/// Counts in four equal cells and the p-values by probability, chi-square and likelihood ratio: computed with Python by
/// listing every table; rows 2, 4, 6 and 8 of the first two columns are exact fractions (1787/8192 and 947/8192 for 5,1,1,1).
const FOUR_EQUAL_CELLS: &[([u64; 4], f64, [f64; 3])] = &[
    ([1, 0, 0, 0], 4.0, [1.0, 1.0, 1.0]),
    ([3, 0, 0, 0], 20.0, [0.0625, 0.0625, 0.0625]),
    ([2, 2, 2, 2], 165.0, [1.0, 1.0, 1.0]),
    (
        [5, 1, 1, 1],
        165.0,
        [0.2181396484375, 0.1156005859375, 0.29504394531250006],
    ),
    (
        [10, 3, 4, 3],
        1771.0,
        [
            0.13641573135100776,
            0.08826373548072303,
            0.14512664517678797,
        ],
    ),
    (
        [6, 0, 1, 1],
        165.0,
        [0.02716064453125, 0.01690673828125, 0.03356933593750002],
    ),
    (
        [12, 4, 4, 4],
        2925.0,
        [
            0.09059701540715544,
            0.04643979017416201,
            0.09478186468706447,
        ],
    ),
    (
        [9, 3, 2, 2],
        969.0,
        [
            42514049.0 / 536870912.0,
            21919475.0 / 536870912.0,
            0.07918858714401744,
        ],
    ),
];

#[test]
fn exact_multinomial_over_four_equal_cells() {
    for (counts, tables, expected) in FOUR_EQUAL_CELLS {
        for (ordering, want) in Ordering::ALL.into_iter().zip(expected) {
            let found = exact(counts, &equal(4), ordering, 1_000_000)
                .unwrap()
                .expect("small enough");
            assert_eq!(found.tables, *tables);
            assert_relative_eq!(found.p, *want, max_relative = 1e-12);
        }
    }
}

/// Mendel's peas, 315, 108, 101, 32 against 9:3:3:1 over 28 956 759 tables. Computed with Python by listing every table; the
/// vignette of R XNomial 1.0.4.1 prints .9382, .9272 and .9261.
#[test]
fn exact_multinomial_of_mendels_peas() {
    let shares = [9.0 / 16.0, 3.0 / 16.0, 3.0 / 16.0, 1.0 / 16.0];
    let expected = [0.9382220246156739, 0.9271914725202205, 0.926132142677203];
    for (ordering, want) in Ordering::ALL.into_iter().zip(expected) {
        let found = exact(&[315, 108, 101, 32], &shares, ordering, 20_000_000)
            .unwrap()
            .expect("small enough");
        assert_eq!(found.tables, 28_956_759.0);
        assert_relative_eq!(found.p, want, max_relative = 1e-9);
        let drawn = monte_carlo(&[315, 108, 101, 32], &shares, ordering, 20_000, 7).unwrap();
        assert!(
            (drawn.p - want).abs() < 4.0 * drawn.standard_error,
            "{ordering:?}: {drawn:?}"
        );
    }
}
