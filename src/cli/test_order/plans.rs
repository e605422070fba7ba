//! Plans for the report: learnt once, one for each family.

use std::collections::BTreeMap;

use crate::answer::parallel::in_order;
use crate::answer::test_order::compute::Input;
use crate::answer::test_order::learning::Learnt;
use crate::answer::test_order::model::Bay;
use crate::answer::test_order::{self, TestOrder};
use crate::cli::question::Asked;
use crate::domain::day::Day;
use crate::domain::family::EngineFamily;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::Result;
use crate::history;
use crate::stats::test_order::Effort;
use crate::tally;
use crate::tally::shares::Complaint;
use crate::tally::test_order::TestOrderTally;

/// Positions that a quick plan compares, a fraction of a second's work.
const QUICK: usize = 300_000;

/// Work for a quick plan: the tests that say least are left out, and by how much that could matter is not worked out.
pub fn quick() -> Effort {
    Effort {
        positions: QUICK,
        bound: false,
        ..Effort::default()
    }
}

/// Counts everything a plan is learnt from.
pub fn learn(
    asked: &mut Asked,
    to: Option<Day>,
    complaint: &Complaint,
    bands: &MileageBands,
) -> Result<TestOrderTally> {
    let history = asked.history(asked.options)?;
    history::open_steps(&asked.store, &mut asked.engine, &history)?;
    tally::test_order::tally(&mut asked.engine, &history, to, complaint, bands)
}

/// The plans of families from what was counted, for their pages.
pub fn by_family(
    asked: &Asked,
    tally: &TestOrderTally,
    families: &[EngineFamily],
    bands: &MileageBands,
) -> Result<BTreeMap<String, TestOrder>> {
    let learnt = Learnt::new(&asked.catalog, tally)?;
    let plan = |family: &EngineFamily| {
        let answer = test_order::answer(&Input {
            learnt: &learnt,
            bay: Bay {
                family: Some(family),
                ..Bay::default()
            },
            bands,
            complaint: None,
            effort: quick(),
        })?;
        Ok((family.id.clone(), answer))
    };
    in_order(families, plan).into_iter().collect()
}
