//! Whether groups fail alike: log-rank tests, within strata where asked, and which causes they differ in.

use std::collections::{BTreeMap, BTreeSet};

use super::asking::{Asking, of_failure};
use super::compare_causes::{self, Incidences};
use super::model;
use super::types::{ComparedGroup, Comparison};
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::survival::{RiskTable, Weight, log_rank};
use crate::tally::life::{Counts, LifeGroup};
use crate::tally::{Dimension, KeyPart};

/// Part of a group's key.
pub type Parts = Vec<KeyPart>;

/// A group to compare.
#[derive(Debug, Clone, Default)]
pub struct Compared {
    /// Its risk sets.
    pub table: RiskTable,
    /// Its failures by cause: distance and number. Empty where every cause has lives of its own.
    pub by_cause: BTreeMap<String, Vec<(f64, u64)>>,
}

/// Takes in the risk sets of the groups to compare.
pub struct Comparing {
    /// Dimensions of the groups' keys.
    dimensions: Vec<Dimension>,
    /// Those within which groups are compared.
    strata: Vec<Dimension>,
    /// By what fails, then by stratum, then by group.
    tables: BTreeMap<Parts, BTreeMap<Parts, BTreeMap<Parts, Compared>>>,
}

impl Comparing {
    /// Groups whose keys have `dimensions`, those of `strata` among them.
    pub fn new(dimensions: &[Dimension], strata: &[Dimension]) -> Self {
        Self {
            dimensions: dimensions.to_vec(),
            strata: strata.to_vec(),
            tables: BTreeMap::new(),
        }
    }

    /// Adds groups.
    ///
    /// # Errors
    /// Counts that cannot be lives.
    pub fn add(&mut self, groups: &[Counts<'_>]) -> Result<()> {
        let mut groups = groups.iter().map(Counts::group);
        groups.try_for_each(|group| self.add_one(&group))
    }

    fn add_one(&mut self, group: &LifeGroup) -> Result<()> {
        let part = |wanted: &dyn Fn(Dimension) -> bool| -> Parts {
            let all = self.dimensions.iter().zip(&group.key);
            all.filter(|(d, _)| wanted(**d))
                .map(|(_, p)| p.clone())
                .collect()
        };
        let in_strata = |d: Dimension| self.strata.contains(&d);
        let what = part(&|d| of_failure(d) && !in_strata(d));
        let stratum = part(&in_strata);
        let who = part(&|d| !of_failure(d) && !in_strata(d));
        let mut compared = Compared {
            table: model::table(group.rows.iter().copied())?,
            by_cause: BTreeMap::new(),
        };
        if !self.dimensions.contains(&Dimension::Cause) {
            for f in &group.failures {
                if let Some(cause) = group.causes.get(f.cause) {
                    let failed = compared.by_cause.entry(cause.clone()).or_default();
                    failed.push((f.distance_m as f64, f.failed));
                }
            }
        }
        let strata = self.tables.entry(what).or_default();
        strata.entry(stratum).or_default().insert(who, compared);
        Ok(())
    }

    /// One comparison for everything that fails.
    ///
    /// # Errors
    /// None that tables of lives can have.
    pub fn finish(self, asking: &Asking<'_>) -> Result<Vec<Comparison>> {
        let mut out = Vec::new();
        for (what, strata) in &self.tables {
            let groups: BTreeSet<&Parts> = strata.values().flat_map(BTreeMap::keys).collect();
            if groups.len() < 2 {
                continue;
            }
            let none = Compared::default();
            let strata: Vec<Vec<&Compared>> = strata
                .values()
                .map(|of| groups.iter().map(|g| of.get(*g).unwrap_or(&none)).collect())
                .collect();
            out.push(self.one(what, &groups, &strata, asking)?);
        }
        Ok(out)
    }

    /// The comparison of `groups`, whose tables stand in their order in each stratum.
    fn one(
        &self,
        what: &Parts,
        groups: &BTreeSet<&Parts>,
        strata: &[Vec<&Compared>],
        asking: &Asking<'_>,
    ) -> Result<Comparison> {
        let tables: Vec<Vec<&RiskTable>> = strata
            .iter()
            .map(|of| of.iter().map(|group| &group.table).collect())
            .collect();
        let test = told(log_rank(&tables, Weight::LogRank))?;
        let early = told(log_rank(&tables, Weight::PetoPeto))?;
        let who: Vec<Dimension> = self
            .dimensions
            .iter()
            .copied()
            .filter(|d| !of_failure(*d) && !self.strata.contains(d))
            .collect();
        let keys: Vec<_> = groups
            .iter()
            .map(|parts| asking.labels.key(&who, parts))
            .collect();
        let Incidences { causes, left_out } = compare_causes::compared(strata, &keys, asking)?;
        let counts = test.observed.iter().zip(&test.expected);
        Ok(Comparison {
            what: asking.what_key(what),
            within: self.strata.iter().map(|d| d.name()).collect(),
            chi_square: test.chi_square,
            degrees_of_freedom: test.degrees_of_freedom,
            p: test.p_value,
            p_early: early.p_value,
            groups: keys
                .into_iter()
                .zip(counts)
                .map(|(key, (observed, expected))| ComparedGroup {
                    key,
                    observed: *observed,
                    expected: *expected,
                })
                .collect(),
            causes,
            left_out,
        })
    }
}
