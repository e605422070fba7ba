//! What tests showed, counted by cause and test.

use std::collections::BTreeMap;

use super::Engine;
use crate::tally::test_order::TestOrderTally;

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
