//! Odds for each newer case, from the records and from the catalog alone, at three moments of it.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use super::Input;
use crate::answer::test_order::learning::{Known, Learnt, starting};
use crate::answer::test_order::model::{Bay, Model, Seen};
use crate::domain::catalog::Catalog;
use crate::domain::problem::Result;
use crate::tally::test_order::{JudgedCase, TestOrderTally};

/// The moments: id, in words, and whether results alone decided that a case came there.
pub(super) const MOMENTS: [(&str, &str, bool); 3] = [
    ("before", "before any test", true),
    ("first_abnormal", "at the first abnormal result", true),
    ("all_results", "after all results of the case", false),
];

/// One judged case: true cause by number, family, odds by moment.
pub(super) struct Judged {
    pub cause: usize,
    pub family: Option<String>,
    /// Minutes of all tests of the case, if each was noted.
    pub recorded: Option<f64>,
    /// From the records, from the catalog alone.
    pub odds: [[Vec<f64>; 2]; 3],
}

pub(super) fn judge(input: &Input<'_>, learnt: &Learnt<'_>) -> Result<Vec<Judged>> {
    let empty = TestOrderTally::default();
    let alone = Learnt::new(input.catalog, &empty)?;
    let alone = alone.of(None)?;
    let mut families: BTreeMap<Option<&str>, Known<'_>> = BTreeMap::new();
    let mut judged = Vec::new();
    for case in input.cases {
        let causes = input.catalog.causes();
        let Some(cause) = causes.iter().position(|c| c.id == case.cause) else {
            continue;
        };
        let family = case.family.as_ref().and_then(|f| input.families.get(f));
        let id = family.map(|f| f.id.as_str());
        let known = match families.entry(id) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(place) => place.insert(learnt.of(id)?),
        };
        let odds = |steps: usize| -> Result<[Vec<f64>; 2]> {
            let bay = Bay {
                family,
                band: case.band,
                seen: usable(input.catalog, case, steps),
                ..Bay::default()
            };
            let odds = |known| -> Result<Vec<f64>> {
                let model = Model::new(known, &bay)?;
                Ok(bounded(&model.course.causes(&model.problem)))
            };
            Ok([odds(&*known)?, odds(&alone)?])
        };
        let abnormal = case.steps.iter().position(|s| s.1);
        let first = abnormal.map_or(case.steps.len(), |at| at + 1);
        judged.push(Judged {
            cause,
            family: id.map(str::to_string),
            recorded: recorded(case),
            odds: [odds(0)?, odds(first)?, odds(case.steps.len())?],
        });
    }
    Ok(judged)
}

/// Of the first results of a case those that the model knows: a wet step without a low dry reading, or a leak without a path, is
/// left out.
fn usable(catalog: &Catalog, case: &JudgedCase, steps: usize) -> Vec<Seen> {
    let steps = || case.steps.iter().take(steps);
    let dry_low = steps().any(|s| s.0 == "cranking_compression" && s.1);
    let says = |test: &str| match test {
        "wet_compression" => dry_low,
        _ => catalog
            .causes()
            .iter()
            .all(|c| starting(catalog, &c.id, test).is_some()),
    };
    let told = |test: &str, abnormal: bool, path: &Option<String>| {
        test != "cylinder_leakage" || !abnormal || path.is_some()
    };
    steps()
        .filter(|(test, abnormal, path, _)| says(test) && told(test, *abnormal, path))
        .map(|(test, abnormal, path, _)| Seen {
            test: test.clone(),
            abnormal: *abnormal,
            path: path.clone().filter(|_| test == "cylinder_leakage"),
        })
        .collect()
}

fn recorded(case: &JudgedCase) -> Option<f64> {
    if case.steps.is_empty() {
        return None;
    }
    case.steps.iter().map(|s| s.3).sum()
}

/// Rounding may leave a probability a hair above 1.
fn bounded(odds: &[f64]) -> Vec<f64> {
    odds.iter().map(|p| p.clamp(0.0, 1.0)).collect()
}
