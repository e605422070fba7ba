//! In which causes groups differ when the causes compete to come first: Gray's test of each cause's share.
//!
//! The log-rank test of all causes together cannot say which of them makes the difference, and one of each cause alone asks what
//! would happen if the others could not. Here the shares that fail first by a cause are compared as they are.

use std::collections::BTreeSet;

use super::asking::Asking;
use super::compare::Compared;
use super::model::WELL_FILLED;
use super::types::{CauseComparison, ComparedGroup};
use crate::answer::label::RowKey;
use crate::answer::parallel::in_order;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::competing_risks::{CauseSample, GrayTest, gray_test};
use crate::stats::multiple::benjamini_hochberg;
use crate::stats::survival::RiskTable;

/// What comes of comparing shares by cause.
#[derive(Debug, Default)]
pub struct Incidences {
    /// One test a cause.
    pub causes: Vec<CauseComparison>,
    /// Groups that cannot be followed from where the others begin.
    pub left_out: Vec<RowKey>,
}

/// One stratum from the distance on at which all groups that are followed begin.
struct Stratum<'a> {
    from: f64,
    groups: Vec<(&'a Compared, RiskTable)>,
}

/// A group's lives, and its failures by one cause: distance and number.
type OfCause<'a> = (&'a RiskTable, Vec<(f64, u64)>);

/// The tests of all causes; nothing where fewer than two causes compete, or fewer than two groups can be followed.
///
/// # Errors
/// None that tables of lives can have.
pub fn compared(
    strata: &[Vec<&Compared>],
    keys: &[RowKey],
    asking: &Asking<'_>,
) -> Result<Incidences> {
    let causes: BTreeSet<&String> = strata
        .iter()
        .flatten()
        .flat_map(|group| group.by_cause.keys())
        .collect();
    let causes: Vec<&String> = causes.into_iter().collect();
    if causes.len() < 2 {
        return Ok(Incidences::default());
    }
    let strata: Vec<Stratum<'_>> = strata
        .iter()
        .filter_map(|groups| Stratum::new(groups, asking.start()))
        .collect();
    let follows = |place: usize| {
        let tables = strata.iter().filter_map(|s| s.groups.get(place));
        tables.map(|(_, table)| table.lives()).sum::<u64>() > 0
    };
    let (followed, lost): (Vec<usize>, Vec<usize>) =
        (0..keys.len()).partition(|place| follows(*place));
    if followed.len() < 2 {
        return Ok(Incidences::default());
    }
    let key = |place: &usize| keys.get(*place).cloned();
    let tests = in_order(&causes, |cause| test(&strata, &followed, cause));
    let mut out = Vec::new();
    for (cause, test) in causes.iter().zip(tests) {
        let test = test?;
        let counts = test.observed.iter().zip(&test.expected);
        let groups = followed.iter().filter_map(key).zip(counts);
        out.push(CauseComparison {
            cause: cause.to_string(),
            title: asking.labels.cause(cause),
            from_m: strata
                .iter()
                .map(|s| super::model::metres(s.from))
                .max()
                .unwrap_or(0),
            chi_square: test.chi_square,
            degrees_of_freedom: test.degrees_of_freedom,
            p: test.p_value,
            p_adjusted: None,
            groups: groups
                .map(|(key, (observed, expected))| ComparedGroup {
                    key,
                    observed: *observed,
                    expected: *expected,
                })
                .collect(),
        });
    }
    adjust(&mut out)?;
    Ok(Incidences {
        causes: out,
        left_out: lost.iter().filter_map(key).collect(),
    })
}

impl<'a> Stratum<'a> {
    /// Begins where every group's first failures are met by enough lives; groups that never are so many are left out. None
    /// without such a group.
    fn new(groups: &[&'a Compared], asked: Option<f64>) -> Option<Self> {
        let own = |group: &&Compared| group.table.adequate_from(WELL_FILLED);
        let from = groups.iter().filter_map(own).chain(asked);
        let from = from.reduce(f64::max)?;
        let groups = groups.iter().map(|group| {
            let table = group.table.conditional_on(from);
            let begins = own(group).is_some() && table.first_entry() == Some(from);
            (*group, if begins { table } else { RiskTable::default() })
        });
        Some(Self {
            from,
            groups: groups.collect(),
        })
    }
}

/// Gray's test of one cause among the groups at `followed`.
fn test(strata: &[Stratum<'_>], followed: &[usize], cause: &str) -> Result<GrayTest> {
    let failed = |stratum: &Stratum<'_>, group: &Compared, table: &RiskTable| {
        let all = group.by_cause.get(cause).map_or(&[][..], Vec::as_slice);
        let later = all.partition_point(|(distance, _)| *distance <= stratum.from);
        let followed = all.get(later..).filter(|_| table.lives() > 0);
        followed.map_or_else(Vec::new, <[(f64, u64)]>::to_vec)
    };
    let of_strata: Vec<Vec<OfCause<'_>>> = strata
        .iter()
        .map(|stratum| {
            let groups = followed
                .iter()
                .filter_map(|place| stratum.groups.get(*place));
            groups
                .map(|(group, table)| (table, failed(stratum, group, table)))
                .collect()
        })
        .collect();
    let samples: Vec<Vec<CauseSample<'_>>> = of_strata
        .iter()
        .map(|groups| {
            let samples = groups
                .iter()
                .map(|(lives, failed)| CauseSample { lives, failed });
            samples.collect()
        })
        .collect();
    told(gray_test(&samples))
}

/// Adjusts the p-values for the number of causes looked at (Benjamini-Hochberg).
fn adjust(causes: &mut [CauseComparison]) -> Result<()> {
    let p: Vec<f64> = causes.iter().filter_map(|c| c.p).collect();
    let adjusted = told(benjamini_hochberg(&p))?;
    let tested = causes.iter_mut().filter(|c| c.p.is_some());
    for (cause, p) in tested.zip(adjusted) {
        cause.p_adjusted = Some(p);
    }
    Ok(())
}
