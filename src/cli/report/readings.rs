//! What healthy cylinders read, for every family at once: three queries, whatever the number of families.

use std::collections::{BTreeMap, BTreeSet};

use crate::answer::question::Rules;
use crate::answer::readings::{self, Readings};
use crate::cli::question::Asked;
use crate::cli::readings::{cylinder_test, fetch, input};
use crate::domain::problem::Result;
use crate::tally::Filter;
use crate::tally::test_readings::best_filled;

/// Tests shown on a family's page, the one read on most engines: each costs a chart and its intervals.
const TESTS: usize = 1;

/// Fewest engines read, healthy or not, for a test to be shown.
const FEWEST_ENGINES: u64 = 10;

/// Answers by family, for the tests read on most engines of each.
pub fn by_family(asked: &mut Asked, rules: &Rules) -> Result<BTreeMap<String, Vec<Readings>>> {
    asked.steps()?;
    let filled = best_filled(&mut asked.engine, &asked.filter)?;
    let mut chosen: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (family, tests) in filled {
        let known = asked.families.get(&family).is_some();
        let tests: Vec<String> = tests
            .into_iter()
            .filter(|(test, engines)| {
                *engines >= FEWEST_ENGINES && cylinder_test(&asked.catalog, test).is_ok()
            })
            .map(|(test, _)| test)
            .take(TESTS)
            .collect();
        if known && !tests.is_empty() {
            chosen.insert(family, tests);
        }
    }
    if chosen.is_empty() {
        return Ok(BTreeMap::new());
    }
    let tests: BTreeSet<String> = chosen.values().flatten().cloned().collect();
    let filter = Filter {
        families: chosen.keys().cloned().collect(),
        ..asked.filter.clone()
    };
    let tested = fetch(asked, &filter, &tests.into_iter().collect::<Vec<_>>())?;
    let mut out = BTreeMap::new();
    for (family, tests) in chosen {
        let mut answers = Vec::with_capacity(tests.len());
        for id in tests {
            let test = cylinder_test(&asked.catalog, &id)?;
            let mut input = input(asked, &family, rules, test, &tested, 1)?;
            input.sensitivity = false;
            answers.push(readings::answer(input)?);
        }
        out.insert(family, answers);
    }
    Ok(out)
}
