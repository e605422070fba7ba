//! From counts to probabilities: the catalog first, then all engines, the family, the mileage band.
//!
//! Each level is a Dirichlet (two outcomes: Beta) whose mean is the level above: `p = (w q + n) / (w + N)` with the
//! estimate above `q`, its weight `w` in cases, and the counts `n` of `N` cases here.

use std::collections::BTreeMap;

use crate::domain::catalog::{Catalog, Chance};
use crate::tally::test_order::TestOrderTally;

/// Which cases speak for this engine.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Engine<'a> {
    /// Engine family.
    pub family: Option<&'a str>,
    /// Mileage band.
    pub band: Option<usize>,
}

/// A cause's probability before any test, and what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// Cause id.
    pub cause: String,
    /// Starting share of the catalog.
    pub starting: f64,
    /// Confirmed cases: all engines, this family, this family in this mileage band.
    pub cases: [u64; 3],
    /// The probability.
    pub probability: f64,
}

/// Confirmed cases at each level: all engines, the family, the band.
pub fn totals(priors: &[Prior]) -> [u64; 3] {
    let sum = |level: usize| priors.iter().map(|p| p.cases[level]).sum();
    [sum(0), sum(1), sum(2)]
}

/// Probabilities of the causes.
pub fn priors(catalog: &Catalog, tally: &TestOrderTally, engine: Engine<'_>) -> Vec<Prior> {
    let mut priors: Vec<Prior> = catalog
        .causes()
        .iter()
        .map(|c| Prior {
            cause: c.id.clone(),
            starting: c.share_percent / 100.0,
            cases: [0; 3],
            probability: c.share_percent / 100.0,
        })
        .collect();
    for cell in &tally.causes {
        let Some(prior) = priors.iter_mut().find(|p| p.cause == cell.cause) else {
            continue;
        };
        prior.cases[0] += cell.cases;
        if engine.family.is_some() && cell.family.as_deref() == engine.family {
            prior.cases[1] += cell.cases;
            if engine.band.is_some() && cell.band == engine.band {
                prior.cases[2] += cell.cases;
            }
        }
    }
    let totals = totals(&priors);
    let weight = catalog.cause_prior_weight();
    for prior in &mut priors {
        for (n, of) in prior.cases.into_iter().zip(totals) {
            prior.probability = shrunk(prior.probability, weight, n, of);
        }
    }
    priors
}

fn shrunk(above: f64, weight: f64, n: u64, of: u64) -> f64 {
    (weight * above + n as f64) / (weight + of as f64)
}

/// Results of one test under one cause.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Results {
    /// Abnormal and all, over all engines.
    pub all: [u64; 2],
    /// Abnormal and all, in this family.
    pub family: [u64; 2],
    /// Of all, those whose cause was seen or measured.
    pub sure: u64,
    /// Abnormal ones by leak path: all engines, this family.
    pub paths: BTreeMap<String, [u64; 2]>,
}

/// Results by cause and test.
#[derive(Debug, Clone, Default)]
pub struct Experience(BTreeMap<(String, String), Results>);

impl Experience {
    /// Folds the tally for an engine.
    pub fn new(tally: &TestOrderTally, engine: Engine<'_>) -> Self {
        let mut cells: BTreeMap<(String, String), Results> = BTreeMap::new();
        for step in &tally.steps {
            let key = (step.cause.clone(), step.test.clone());
            let cell = cells.entry(key).or_default();
            let own = engine.family.is_some() && step.family.as_deref() == engine.family;
            let abnormal = if step.abnormal { step.cases } else { 0 };
            cell.all[0] += abnormal;
            cell.all[1] += step.cases;
            cell.sure += step.sure;
            if own {
                cell.family[0] += abnormal;
                cell.family[1] += step.cases;
            }
            if let Some(path) = step.leak_path.as_ref().filter(|_| step.abnormal) {
                let heard = cell.paths.entry(path.clone()).or_default();
                heard[0] += step.cases;
                heard[1] += if own { step.cases } else { 0 };
            }
        }
        Self(cells)
    }

    /// Results of a test under a cause.
    pub fn of(&self, cause: &str, test: &str) -> Results {
        let key = (cause.to_string(), test.to_string());
        self.0.get(&key).cloned().unwrap_or_default()
    }
}

/// How much the estimate over all engines weighs against the family's own counts, in cases: families differ little in what
/// a test shows (common practice, no source).
const FAMILY_WEIGHT: f64 = 10.0;

/// Probability that a test is abnormal: starting chance, all engines, family.
pub fn abnormal(chance: Chance, results: &Results) -> f64 {
    let [a, n] = results.all;
    let all = shrunk(chance.probability(), chance.weight, a, n);
    let [a, n] = results.family;
    shrunk(all, FAMILY_WEIGHT, a, n)
}

/// Probabilities of the leak paths of an abnormal leakage test; they sum to 1.
pub fn paths(starting: &[f64], weight: f64, names: &[&str], results: &Results) -> Vec<f64> {
    let heard = |name: &&str| results.paths.get(*name).copied().unwrap_or_default();
    let sums: [u64; 2] = names
        .iter()
        .map(heard)
        .fold([0, 0], |[a, b], [x, y]| [a + x, b + y]);
    let level = |(name, start): (&&str, &f64)| {
        let [all, family] = heard(name);
        let above = shrunk(*start, weight, all, sums[0]);
        shrunk(above, FAMILY_WEIGHT, family, sums[1])
    };
    names.iter().zip(starting).map(level).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tally::test_order::CauseCell;

    #[test]
    fn each_level_pulls_the_one_above() {
        let catalog = Catalog::embedded().expect("sound");
        let cell = |cause: &str, family: &str, band, cases| CauseCell {
            cause: cause.to_string(),
            family: Some(family.to_string()),
            band: Some(band),
            cases,
        };
        let tally = TestOrderTally {
            causes: vec![
                cell("spark_plug", "oak", 0, 30),
                cell("ignition_coil", "elm", 1, 10),
                cell("ignition_coil", "elm", 0, 10),
            ],
            ..TestOrderTally::default()
        };
        let engine = Engine {
            family: Some("elm"),
            band: Some(1),
        };
        let priors = priors(&catalog, &tally, engine);
        let coil = priors
            .iter()
            .find(|p| p.cause == "ignition_coil")
            .expect("a cause");
        // By hand: (10 x 0.24 + 20) / 60, then (10 q + 20) / 30, then (10 q + 10) / 20.
        let all = (2.4 + 20.0) / 60.0;
        let family = (10.0 * all + 20.0) / 30.0;
        let band = (10.0 * family + 10.0) / 20.0;
        assert!((coil.probability - band).abs() < 1e-12);
        assert_eq!(coil.cases, [20, 20, 10]);
        let sum: f64 = priors.iter().map(|p| p.probability).sum();
        assert!((sum - 1.0).abs() < 1e-12);
    }

    #[test]
    fn leak_paths_stay_probabilities() {
        let mut results = Results::default();
        results.paths.insert("exhaust".to_string(), [8, 2]);
        let shares = paths(&[0.5, 0.5], 4.0, &["intake", "exhaust"], &results);
        // By hand: (4 x 0.5 + 8) / 12 = 5/6, then (10 x 5/6 + 2) / 12.
        assert!((shares[1] - (50.0 / 6.0 + 2.0) / 12.0).abs() < 1e-12);
        assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }
}
