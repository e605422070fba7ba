//! Whether groups fail alike: log-rank tests, within strata where asked.

use std::collections::{BTreeMap, BTreeSet};

use super::compute::{Asking, of_failure};
use super::model::Model;
use super::types::{ComparedGroup, Comparison};
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::survival::{RiskTable, Weight, log_rank};
use crate::tally::life::LifeGroup;
use crate::tally::{Dimension, KeyPart};

type Parts = Vec<KeyPart>;

/// Takes in the risk sets of the groups to compare.
pub struct Comparing {
    /// Dimensions of the groups' keys.
    dimensions: Vec<Dimension>,
    /// Those within which groups are compared.
    strata: Vec<Dimension>,
    /// By what fails, then by stratum, then by group.
    tables: BTreeMap<Parts, BTreeMap<Parts, BTreeMap<Parts, RiskTable>>>,
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

    /// Adds a group.
    ///
    /// # Errors
    /// Counts that cannot be lives.
    pub fn add(&mut self, group: &LifeGroup) -> Result<()> {
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
        let table = Model::new(group)?.table;
        let strata = self.tables.entry(what).or_default();
        strata.entry(stratum).or_default().insert(who, table);
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
            let none = RiskTable::default();
            let tables: Vec<Vec<&RiskTable>> = strata
                .values()
                .map(|of| groups.iter().map(|g| of.get(*g).unwrap_or(&none)).collect())
                .collect();
            let test = told(log_rank(&tables, Weight::LogRank))?;
            let early = told(log_rank(&tables, Weight::PetoPeto))?;
            let who: Vec<Dimension> = self
                .dimensions
                .iter()
                .copied()
                .filter(|d| !of_failure(*d) && !self.strata.contains(d))
                .collect();
            let counts = test.observed.iter().zip(&test.expected);
            out.push(Comparison {
                what: asking.what_key(what),
                within: self.strata.iter().map(|d| d.name()).collect(),
                chi_square: test.chi_square,
                degrees_of_freedom: test.degrees_of_freedom,
                p: test.p_value,
                p_early: early.p_value,
                groups: groups
                    .iter()
                    .zip(counts)
                    .map(|(parts, (observed, expected))| ComparedGroup {
                        key: asking.labels.key(&who, parts),
                        observed: *observed,
                        expected: *expected,
                    })
                    .collect(),
            });
        }
        Ok(out)
    }
}
