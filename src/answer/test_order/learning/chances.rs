//! What tests show under each cause, learnt from whole cases.
//!
//! Tests late in a case are done only where the ones before it found nothing, which is where the fault is marginal. Results
//! are therefore not counted one by one: every case is fitted with all its results, frank or marginal as it may have been
//! (`stats::latent_class`). What was left undone depended on results that are in the case, and so does no harm.

use super::{Engine, LEAST, MOST, MOST_TRUST, shrunk, starting};
use crate::answer::statistic::told;
use crate::domain::catalog::{Catalog, Chance};
use crate::domain::problem::Result;
use crate::stats::dirichlet_multinomial::{Group, concentration};
use crate::stats::latent_class::{Item, Pattern, TwoClasses, fit};
use crate::tally::test_order::{CasePattern, TestOrderTally};

/// Chances of all tests under all causes.
#[derive(Debug)]
pub struct Chances<'a> {
    catalog: &'a Catalog,
    tally: &'a TestOrderTally,
    /// Frank and marginal.
    pub classes: TwoClasses,
    /// Tests of which the catalog knows what they say.
    tests: Vec<&'a str>,
    /// By cause, then by test.
    starting: Vec<Vec<Option<Chance>>>,
    all: Vec<Vec<f64>>,
    /// By cause: leak paths over all engines.
    paths: Vec<Vec<f64>>,
    /// How many times its marked weight the catalog carries: in chances, in leak paths.
    pub trust: [f64; 2],
    /// What all engines weigh against a family, in cases: in chances, in leak paths.
    pub family_weight: [f64; 2],
}

/// The chances for one engine.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnChances {
    /// By cause, then by test.
    chances: Vec<Vec<f64>>,
    paths: Vec<Vec<f64>>,
}

/// Abnormal and normal results.
type Counts = [u64; 2];

impl<'a> Chances<'a> {
    /// Learns from all engines.
    pub fn learn(catalog: &'a Catalog, tally: &'a TestOrderTally) -> Result<Self> {
        let severity = catalog.severity();
        let causes = catalog.causes();
        let tests: Vec<&str> = catalog
            .tests()
            .iter()
            .map(|t| t.id.as_str())
            .filter(|t| causes.iter().all(|c| starting(catalog, &c.id, t).is_some()))
            .collect();
        let row = |cause: &crate::domain::catalog::Cause| {
            let each = tests.iter();
            each.map(|t| starting(catalog, &cause.id, t)).collect()
        };
        let starting: Vec<Vec<Option<Chance>>> = causes.iter().map(row).collect();
        let mut chances = Self {
            catalog,
            tally,
            classes: told(TwoClasses::new(severity.frank_share, severity.apart))?,
            all: Vec::new(),
            paths: Vec::new(),
            tests,
            starting,
            trust: [1.0; 2],
            family_weight: [MOST; 2],
        };
        chances.learn_chances()?;
        chances.learn_paths()?;
        Ok(chances)
    }

    fn learn_chances(&mut self) -> Result<()> {
        let all = self.counts(|_| true);
        let mut groups = Vec::new();
        for (cells, row) in all.iter().zip(&self.starting) {
            for (counts, chance) in cells.iter().zip(row) {
                groups.extend(chance.map(|c| group(counts, c.probability(), c.weight)));
            }
        }
        self.trust[0] = told(concentration(&groups, 1.0, MOST_TRUST))?;
        let mut groups = Vec::new();
        for family in self.families() {
            let own = self.counts(|p| p.family.as_deref() == Some(family));
            for ((all, own), row) in all.iter().zip(&own).zip(&self.starting) {
                for ((all, own), chance) in all.iter().zip(own).zip(row) {
                    groups.extend(chance.map(|c| {
                        let weight = self.trust[0] * c.weight;
                        let mean = shrunk(c.probability(), weight, all[0], all[0] + all[1]);
                        group(own, mean, 1.0)
                    }));
                }
            }
        }
        self.family_weight[0] = told(concentration(&groups, LEAST, MOST))?;
        let rows = self.starting.iter().map(|row| {
            let item = |c: &Option<Chance>| Item {
                // A test that says nothing of a cause is in no pattern of it.
                mean: c.map_or(0.5, Chance::probability),
                weight: self.trust[0] * c.map_or(1.0, |c| c.weight),
            };
            row.iter().map(item).collect()
        });
        let rows: Vec<Vec<Item>> = rows.collect();
        self.all = self.fitted(&rows, |_| true)?;
        Ok(())
    }

    fn learn_paths(&mut self) -> Result<()> {
        let all = self.path_counts(None);
        let weight = self.catalog.leak_path_weight();
        let starting: Vec<Vec<f64>> = self
            .catalog
            .causes()
            .iter()
            .map(|c| {
                self.catalog
                    .leak_path_shares(&c.id)
                    .map_or(Vec::new(), <[f64]>::to_vec)
            })
            .collect();
        let groups = |counts: &[Vec<u64>], means: &[Vec<f64>], weight: f64| {
            let each = counts.iter().zip(means);
            each.map(|(counts, means)| Group {
                counts: counts.clone(),
                means: means.clone(),
                weight,
            })
            .collect::<Vec<Group>>()
        };
        self.trust[1] = told(concentration(
            &groups(&all, &starting, weight),
            1.0,
            MOST_TRUST,
        ))?;
        self.paths = mixed(&starting, self.trust[1] * weight, &all);
        let mut by_family = Vec::new();
        for family in self.families() {
            by_family.extend(groups(&self.path_counts(Some(family)), &self.paths, 1.0));
        }
        self.family_weight[1] = told(concentration(&by_family, LEAST, MOST))?;
        Ok(())
    }

    /// The chances for an engine.
    pub fn of(&self, engine: Engine<'_>) -> Result<OwnChances> {
        let Some(family) = engine.family else {
            return Ok(OwnChances {
                chances: self.all.clone(),
                paths: self.paths.clone(),
            });
        };
        let item = |mean: &f64| Item {
            mean: *mean,
            weight: self.family_weight[0],
        };
        let rows = self.all.iter().map(|row| row.iter().map(item).collect());
        let rows: Vec<Vec<Item>> = rows.collect();
        Ok(OwnChances {
            chances: self.fitted(&rows, |p| p.family.as_deref() == Some(family))?,
            paths: mixed(
                &self.paths,
                self.family_weight[1],
                &self.path_counts(Some(family)),
            ),
        })
    }

    /// Number of a cause and of a test.
    fn place(&self, cause: &str, test: &str) -> Option<(usize, usize)> {
        let cause = self.catalog.causes().iter().position(|c| c.id == cause)?;
        Some((cause, self.tests.iter().position(|t| *t == test)?))
    }

    /// What a test shows under a cause of an engine; `None` where the catalog does not know it.
    pub fn abnormal(&self, own: &OwnChances, cause: &str, test: &str) -> Option<f64> {
        let (cause, test) = self.place(cause, test)?;
        own.chances.get(cause)?.get(test).copied()
    }

    /// Where it leaks when it leaks, by the paths of the catalog.
    pub fn paths<'o>(&self, own: &'o OwnChances, cause: &str) -> Option<&'o [f64]> {
        let cause = self.catalog.causes().iter().position(|c| c.id == cause)?;
        own.paths.get(cause).map(Vec::as_slice)
    }

    fn families(&self) -> Vec<&'a str> {
        let mut families: Vec<&str> = self
            .tally
            .patterns
            .iter()
            .filter_map(|p| p.family.as_deref())
            .collect();
        families.sort_unstable();
        families.dedup();
        families
    }

    /// Results one by one, by cause and test: enough to tell how much groups differ.
    fn counts(&self, counted: impl Fn(&CasePattern) -> bool) -> Vec<Vec<Counts>> {
        let mut counts = vec![vec![[0; 2]; self.tests.len()]; self.starting.len()];
        for pattern in self.tally.patterns.iter().filter(|p| counted(p)) {
            for (test, abnormal) in &pattern.results {
                if let Some((cause, test)) = self.place(&pattern.cause, test) {
                    counts[cause][test][usize::from(!abnormal)] += pattern.cases;
                }
            }
        }
        counts
    }

    fn path_counts(&self, family: Option<&str>) -> Vec<Vec<u64>> {
        let paths = self.catalog.leak_paths();
        let causes = self.catalog.causes();
        let mut counts = vec![vec![0; paths.len()]; causes.len()];
        for step in self.tally.steps.iter().filter(|s| s.abnormal) {
            let heard = step.leak_path.as_ref();
            let path = heard.and_then(|h| paths.iter().position(|p| p.id == *h));
            let cause = causes.iter().position(|c| c.id == step.cause);
            if let (Some(cause), Some(path)) = (cause, path)
                && (family.is_none() || step.family.as_deref() == family)
            {
                counts[cause][path] += step.cases;
            }
        }
        counts
    }

    /// Each cause fitted to its own cases.
    fn fitted(
        &self,
        rows: &[Vec<Item>],
        counted: impl Fn(&CasePattern) -> bool,
    ) -> Result<Vec<Vec<f64>>> {
        let mut patterns: Vec<Vec<Pattern>> = vec![Vec::new(); rows.len()];
        for pattern in self.tally.patterns.iter().filter(|p| counted(p)) {
            let placed = |(test, abnormal): &(String, bool)| {
                let (cause, test) = self.place(&pattern.cause, test)?;
                Some((cause, (test, *abnormal)))
            };
            let results: Vec<_> = pattern.results.iter().filter_map(placed).collect();
            if let Some((cause, _)) = results.first() {
                patterns[*cause].push(Pattern {
                    results: results.iter().map(|r| r.1).collect(),
                    count: pattern.cases as f64,
                });
            }
        }
        let each = rows.iter().zip(&patterns);
        each.map(|(items, patterns)| Ok(told(fit(self.classes, items, patterns))?.chances))
            .collect()
    }
}

fn group(counts: &Counts, mean: f64, weight: f64) -> Group {
    Group {
        counts: counts.to_vec(),
        means: vec![mean, 1.0 - mean],
        weight,
    }
}

/// Shares from those above and counts, by cause.
fn mixed(above: &[Vec<f64>], weight: f64, counts: &[Vec<u64>]) -> Vec<Vec<f64>> {
    let row = |(above, counts): (&Vec<f64>, &Vec<u64>)| {
        let of = counts.iter().sum();
        let each = above.iter().zip(counts);
        each.map(|(q, n)| shrunk(*q, weight, *n, of)).collect()
    };
    above.iter().zip(counts).map(row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tally::test_order::StepCell;

    fn pattern(results: &[(&str, bool)], cases: u64) -> CasePattern {
        CasePattern {
            cause: "exhaust_valve_leak".to_string(),
            family: Some("elm".to_string()),
            results: results
                .iter()
                .map(|(t, a)| ((*t).to_string(), *a))
                .collect(),
            cases,
        }
    }

    #[test]
    fn without_records_the_catalog_stands() {
        let catalog = Catalog::embedded().expect("sound");
        let tally = TestOrderTally::default();
        let learnt = Chances::learn(&catalog, &tally).expect("chances");
        let own = learnt.of(Engine::default()).expect("chances");
        let p = learnt.abnormal(&own, "exhaust_valve_leak", "borescope");
        assert_eq!(p, Some(0.6));
        assert_eq!(learnt.abnormal(&own, "exhaust_valve_leak", "no_such"), None);
        let paths = learnt.paths(&own, "exhaust_valve_leak").expect("paths");
        assert!((paths.iter().sum::<f64>() - 1.0).abs() < 1e-9);
    }

    /// A borescope used only where leakage was normal misses much; told so, the estimate is above the bare count.
    #[test]
    fn a_test_of_the_hard_cases_is_given_credit_for_them() {
        let catalog = Catalog::embedded().expect("sound");
        let tally = TestOrderTally {
            patterns: vec![
                pattern(&[("cylinder_leakage", true)], 1800),
                pattern(&[("cylinder_leakage", false), ("borescope", true)], 60),
                pattern(&[("cylinder_leakage", false), ("borescope", false)], 140),
            ],
            ..TestOrderTally::default()
        };
        let learnt = Chances::learn(&catalog, &tally).expect("chances");
        let own = learnt
            .of(Engine {
                family: Some("elm"),
                band: None,
            })
            .expect("chances");
        let p = learnt
            .abnormal(&own, "exhaust_valve_leak", "borescope")
            .expect("known");
        let trust = learnt.trust[0];
        let counted = (2.0 * trust * 0.6 + 60.0) / (2.0 * trust + 200.0);
        assert!(p > counted + 0.05, "{p} {counted}");
        let leak = learnt
            .abnormal(&own, "exhaust_valve_leak", "cylinder_leakage")
            .expect("known");
        assert!((leak - 0.9).abs() < 0.01, "{leak}");
    }

    #[test]
    fn leak_paths_stay_probabilities() {
        let catalog = Catalog::embedded().expect("sound");
        let heard = |path: &str, cases| StepCell {
            cause: "head_gasket".to_string(),
            family: Some("elm".to_string()),
            cylinder: None,
            site: None,
            test: "cylinder_leakage".to_string(),
            abnormal: true,
            leak_path: Some(path.to_string()),
            cases,
            sure: 0,
            timed: 0,
            hundredths: 0,
            places: 0,
        };
        let tally = TestOrderTally {
            steps: vec![heard("coolant", 30), heard("adjacent", 10)],
            ..TestOrderTally::default()
        };
        let learnt = Chances::learn(&catalog, &tally).expect("chances");
        let own = learnt.of(Engine::default()).expect("chances");
        let paths = learnt.paths(&own, "head_gasket").expect("paths");
        assert!((paths.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        let start = catalog.leak_path_shares("head_gasket").expect("paths");
        let coolant = catalog
            .leak_paths()
            .iter()
            .position(|p| p.id == "coolant")
            .expect("a path");
        assert!(paths[coolant] > start[coolant] && paths[coolant] < 0.75);
    }
}
