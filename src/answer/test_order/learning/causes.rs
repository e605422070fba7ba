//! Odds of the causes before any test.

use std::collections::BTreeMap;

use super::{Engine, LEAST, MOST, shrunk};
use crate::answer::statistic::told;
use crate::domain::catalog::Catalog;
use crate::domain::problem::Result;
use crate::stats::dirichlet_multinomial::{Group, Posterior, posterior};
use crate::tally::test_order::TestOrderTally;

/// A cause's probability before any test, and what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// Cause id.
    pub cause: String,
    /// Starting share of the catalog.
    pub starting: f64,
    /// Confirmed cases: all engines, this family, this family in this mileage band.
    pub cases: [u64; 3],
    /// What the level above weighs, in cases: all engines against the family, the family against its mileage band.
    pub weights: [f64; 2],
    /// The probability.
    pub probability: f64,
}

/// Confirmed cases at each level: all engines, the family, the band.
pub fn totals(priors: &[Prior]) -> [u64; 3] {
    let sum = |level: usize| priors.iter().map(|p| p.cases[level]).sum();
    [sum(0), sum(1), sum(2)]
}

/// Counts by cause.
type Counts = Vec<u64>;

/// Odds of the causes for every family and mileage band.
///
/// Below all engines each cause has a weight of its own: families may differ in burnt valves and be alike in all else. Each share is
/// then a Beta of its own, and the shares are brought back to the sum 1.
#[derive(Debug)]
pub struct CauseOdds<'a> {
    catalog: &'a Catalog,
    all: Counts,
    families: BTreeMap<&'a str, Counts>,
    bands: BTreeMap<(&'a str, usize), Counts>,
    /// By cause: weight of all engines against a family, of a family against a band.
    weights: [Vec<Posterior>; 2],
}

impl<'a> CauseOdds<'a> {
    /// Learns the weights.
    pub fn learn(catalog: &'a Catalog, tally: &'a TestOrderTally) -> Result<Self> {
        let causes = catalog.causes();
        let none = || vec![0; causes.len()];
        let mut odds = Self {
            catalog,
            all: none(),
            families: BTreeMap::new(),
            bands: BTreeMap::new(),
            weights: [Vec::new(), Vec::new()],
        };
        for cell in &tally.causes {
            let Some(cause) = causes.iter().position(|c| c.id == cell.cause) else {
                continue;
            };
            odds.all[cause] += cell.cases;
            let Some(family) = cell.family.as_deref() else {
                continue;
            };
            odds.families.entry(family).or_insert_with(none)[cause] += cell.cases;
            if let Some(band) = cell.band {
                odds.bands.entry((family, band)).or_insert_with(none)[cause] += cell.cases;
            }
        }
        let all = odds.shares_of_all();
        let families = odds.families.values().map(|counts| (&all, counts));
        odds.weights[0] = weights(causes.len(), families.collect())?;
        let by_family: BTreeMap<&str, Vec<f64>> = odds
            .families
            .iter()
            .map(|(family, counts)| (*family, mixed(&all, &odds.weights[0], counts)))
            .collect();
        let bands = odds.bands.iter();
        let bands = bands.filter_map(|((f, _), counts)| Some((by_family.get(f)?, counts)));
        odds.weights[1] = weights(causes.len(), bands.collect())?;
        Ok(odds)
    }

    fn shares_of_all(&self) -> Vec<f64> {
        let weight = self.catalog.cause_prior_weight();
        let sum: u64 = self.all.iter().sum();
        let each = self.catalog.causes().iter().zip(&self.all);
        each.map(|(c, n)| shrunk(c.share_percent / 100.0, weight, *n, sum))
            .collect()
    }

    /// Probabilities for an engine.
    pub fn of(&self, engine: Engine<'_>) -> Vec<Prior> {
        let none = vec![0; self.all.len()];
        let family = engine.family.and_then(|f| self.families.get(f));
        let band = engine
            .family
            .zip(engine.band)
            .and_then(|at| self.bands.get(&at));
        let mut shares = self.shares_of_all();
        for (counts, weights) in [family, band].into_iter().zip(&self.weights) {
            if let Some(counts) = counts {
                shares = mixed(&shares, weights, counts);
            }
        }
        let (family, band) = (family.unwrap_or(&none), band.unwrap_or(&none));
        let weight =
            |level: usize, of: &Counts, i: usize| self.weights[level][i].weight(of.iter().sum());
        let causes = self.catalog.causes().iter().enumerate();
        causes
            .map(|(i, cause)| Prior {
                cause: cause.id.clone(),
                starting: cause.share_percent / 100.0,
                cases: [self.all[i], family[i], band[i]],
                weights: [weight(0, family, i), weight(1, band, i)],
                probability: shares[i],
            })
            .collect()
    }
}

/// Shares of a group from those above and its own counts.
fn mixed(above: &[f64], weights: &[Posterior], counts: &[u64]) -> Vec<f64> {
    let of: u64 = counts.iter().sum();
    let each = above.iter().zip(weights).zip(counts);
    let shares: Vec<f64> = each
        .map(|((q, k), n)| shrunk(*q, k.weight(of), *n, of))
        .collect();
    let sum: f64 = shares.iter().sum();
    shares.into_iter().map(|s| s / sum).collect()
}

/// By cause: what the shares above weigh against the counts of a group.
fn weights(causes: usize, groups: Vec<(&Vec<f64>, &Counts)>) -> Result<Vec<Posterior>> {
    let of = |cause: usize| {
        let group = |(above, counts): &(&Vec<f64>, &Counts)| {
            let (n, sum) = (counts[cause], counts.iter().sum::<u64>());
            Group {
                counts: vec![n, sum - n],
                means: vec![above[cause], 1.0 - above[cause]],
                weight: 1.0,
            }
        };
        let groups: Vec<Group> = groups.iter().map(group).collect();
        told(posterior(&groups, LEAST, MOST))
    };
    (0..causes).map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tally::test_order::CauseCell;

    fn tally(cells: &[(&str, &str, usize, u64)]) -> TestOrderTally {
        let cell = |&(cause, family, band, cases): &(&str, &str, usize, u64)| CauseCell {
            cause: cause.to_string(),
            family: Some(family.to_string()),
            band: Some(band),
            cases,
        };
        TestOrderTally {
            causes: cells.iter().map(cell).collect(),
            ..TestOrderTally::default()
        }
    }

    fn share(priors: &[Prior], cause: &str) -> f64 {
        let found = priors.iter().find(|p| p.cause == cause);
        found.map_or(0.0, |p| p.probability)
    }

    /// By hand, with the weights as they are told: (10 x 0.24 + 20) / 60 of all, and so on, brought to the sum 1.
    #[test]
    fn each_level_pulls_the_one_above() {
        let catalog = Catalog::embedded().expect("sound");
        let tally = tally(&[
            ("spark_plug", "oak", 0, 30),
            ("ignition_coil", "elm", 1, 10),
            ("ignition_coil", "elm", 0, 10),
        ]);
        let odds = CauseOdds::learn(&catalog, &tally).expect("odds");
        let priors = odds.of(Engine {
            family: Some("elm"),
            band: None,
        });
        let coil = priors
            .iter()
            .find(|p| p.cause == "ignition_coil")
            .expect("a cause");
        assert_eq!(coil.cases, [20, 20, 0]);
        assert!(
            coil.weights[0] >= LEAST && coil.weights[0] < 40.0,
            "{coil:?}"
        );
        let all = |p: &Prior| (10.0 * p.starting + p.cases[0] as f64) / 60.0;
        let own = |p: &Prior| (p.weights[0] * all(p) + p.cases[1] as f64) / (p.weights[0] + 20.0);
        let sum: f64 = priors.iter().map(own).sum();
        assert!((coil.probability - own(coil) / sum).abs() < 1e-12);
        let sum: f64 = priors.iter().map(|p| p.probability).sum();
        assert!((sum - 1.0).abs() < 1e-12);
    }

    /// Where mileage changes nothing, a handful of cases in a band changes nothing either.
    #[test]
    fn groups_that_do_not_differ_say_nothing_of_their_own() {
        let catalog = Catalog::embedded().expect("sound");
        let mut cells = Vec::new();
        for family in ["oak", "elm", "ash"] {
            for band in 0..4 {
                cells.push(("spark_plug", family, band, 12));
                cells.push(("ignition_coil", family, band, 8));
            }
        }
        let tally = tally(&cells);
        let odds = CauseOdds::learn(&catalog, &tally).expect("odds");
        let at = |band| {
            share(
                &odds.of(Engine {
                    family: Some("oak"),
                    band,
                }),
                "spark_plug",
            )
        };
        assert!(
            (at(Some(1)) - at(None)).abs() < 5e-3,
            "{} {}",
            at(Some(1)),
            at(None)
        );
    }
}
