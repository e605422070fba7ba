//! From records to probabilities: the catalog first, then all engines, the family, the mileage band.
//!
//! Each level is a Beta or Dirichlet whose mean is the level above: `p = (k q + n) / (k + N)` with the estimate above `q`, its weight
//! `k` in cases, and the counts `n` of `N` cases here. How much a level weighs is learnt as well: the less the groups below it
//! differ from it beyond chance, the more (`stats::dirichlet_multinomial`). Fixed weights are what makes odds from few
//! records too bold.

mod causes;
mod chances;
mod results;

pub use causes::{CauseOdds, Prior, totals};
pub use chances::{Chances, OwnChances};
pub use results::{Experience, Results};

use crate::domain::catalog::{Catalog, Chance};
use crate::domain::problem::Result;
use crate::tally::test_order::TestOrderTally;

/// Which cases speak for this engine.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Engine<'a> {
    /// Engine family.
    pub family: Option<&'a str>,
    /// Mileage band.
    pub band: Option<usize>,
}

/// Least weight of a level above, in cases, however much the groups below it seem to differ (common practice, no source).
const LEAST: f64 = 10.0;

/// Weight from which on a level below counts for nothing: no difference was seen.
const MOST: f64 = 1e4;

/// The catalog weighs at most this many times what it says: a hundred cases for a plain mark. Where that many of one's own
/// speak against it they prevail, whatever the other cells say (common practice, no source).
const MOST_TRUST: f64 = 25.0;

/// Everything learnt from records before an engine is named.
#[derive(Debug)]
pub struct Learnt<'a> {
    /// Causes, tests and repairs.
    pub catalog: &'a Catalog,
    /// What was counted.
    pub tally: &'a TestOrderTally,
    /// Odds of the causes.
    pub causes: CauseOdds<'a>,
    /// What tests show.
    pub chances: Chances<'a>,
}

impl<'a> Learnt<'a> {
    /// Learns.
    pub fn new(catalog: &'a Catalog, tally: &'a TestOrderTally) -> Result<Self> {
        Ok(Self {
            catalog,
            tally,
            causes: CauseOdds::learn(catalog, tally)?,
            chances: Chances::learn(catalog, tally)?,
        })
    }

    /// What is learnt for one family, or for any engine.
    pub fn of(&self, family: Option<&str>) -> Result<Known<'_>> {
        let engine = Engine { family, band: None };
        Ok(Known {
            learnt: self,
            experience: Experience::new(self.tally, engine),
            chances: self.chances.of(engine)?,
        })
    }
}

/// What is learnt for one family.
#[derive(Debug)]
pub struct Known<'a> {
    /// What is learnt over all engines.
    pub learnt: &'a Learnt<'a>,
    /// What was counted.
    pub experience: Experience,
    /// What tests show on this family.
    pub chances: OwnChances,
}

/// The starting chance of a test under a cause, wherever the catalog keeps it; `None` for a test that says nothing.
pub fn starting(catalog: &Catalog, cause: &str, test: &str) -> Option<Chance> {
    match test {
        super::model::WET => catalog.wet_recovery(cause),
        id => catalog
            .chance_abnormal(cause, id)
            .or_else(|| catalog.follow_up(cause, id)),
    }
}

/// `(k q + n) / (k + N)`.
fn shrunk(above: f64, weight: f64, n: u64, of: u64) -> f64 {
    (weight * above + n as f64) / (weight + of as f64)
}
