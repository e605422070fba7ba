//! How often Gray's test calls alike groups different, and different ones different, when most lives come under observation late:
//! the test was made for lives seen from the start, so its extension is held against invented lives here.

use boretally::stats::competing_risks::{
    CauseSample, CompetingLife, CompetingTable, GrayTest, gray_test,
};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

const FLEETS: u64 = 2000;
const LIVES: usize = 120;

fn uniform(rng: &mut ChaCha8Rng) -> f64 {
    ((rng.next_u64() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
}

/// Lives of which the share `first` would fail by cause 0 in the end, at distances that are alike in all groups; the others by cause 1
/// at distances of the mean `other`. So the incidence of cause 0 depends on `first` alone, although its rate among those at risk
/// depends on `other` too. With `late`, half are seen from a later distance on, if they reach it.
fn group(rng: &mut ChaCha8Rng, (first, other): (f64, f64), late: bool) -> CompetingTable {
    let mut lives = Vec::with_capacity(LIVES);
    while lives.len() < LIVES {
        let cause = usize::from(uniform(rng) >= first);
        let mean = if cause == 0 { 120.0 } else { other };
        let fails = -mean * uniform(rng).ln();
        let entry = if late && uniform(rng) < 0.5 {
            150.0 * uniform(rng)
        } else {
            0.0
        };
        let leaves = entry + 40.0 + 200.0 * uniform(rng);
        if fails <= entry {
            continue;
        }
        // Whole distances, so that ties are common.
        let exit = fails.min(leaves).ceil();
        lives.push(CompetingLife {
            entry: entry.floor(),
            exit,
            cause: (fails <= leaves).then_some(cause),
        });
    }
    CompetingTable::from_lives(2, &lives).unwrap().0
}

fn compared(groups: &[CompetingTable]) -> GrayTest {
    let failed: Vec<_> = groups.iter().map(|group| group.failures_by(0)).collect();
    let samples = groups
        .iter()
        .zip(&failed)
        .map(|(group, failed)| CauseSample {
            lives: group.all(),
            failed,
        });
    gray_test(&[samples.collect()]).unwrap()
}

/// The share of fleets whose groups differ at the 5 % level.
fn rejected(groups: &[(f64, f64)], late: bool) -> f64 {
    let differ = (0..FLEETS).filter(|seed| {
        let mut rng = ChaCha8Rng::seed_from_u64(*seed);
        let tables: Vec<CompetingTable> = groups
            .iter()
            .map(|group_of| group(&mut rng, *group_of, late))
            .collect();
        compared(&tables).p_value.is_some_and(|p| p <= 0.05)
    });
    differ.count() as f64 / FLEETS as f64
}

#[test]
fn alike_incidences_are_told_apart_as_seldom_as_stated() {
    let alike = [(0.45, 100.0), (0.45, 100.0), (0.45, 100.0)];
    // The other cause takes lives away early in one group and late in another: the rate of cause 0 among those at risk differs.
    let only_the_other = [(0.45, 50.0), (0.45, 100.0), (0.45, 250.0)];
    // Standard error of a share of 5 % over 2000 fleets: 0.5 %.
    for (name, groups) in [("alike", alike), ("only the other differs", only_the_other)] {
        for late in [false, true] {
            let share = rejected(&groups, late);
            println!("{name}, late entry {late}: {share}");
            assert!((share - 0.05).abs() < 0.016, "{name}, {late}: {share}");
        }
    }
}

#[test]
fn different_incidences_are_told_apart() {
    let apart = [(0.30, 100.0), (0.45, 100.0), (0.60, 100.0)];
    for late in [false, true] {
        let share = rejected(&apart, late);
        println!("apart, late entry {late}: {share}");
        assert!(share > 0.7, "late entry {late}: {share}");
    }
}
