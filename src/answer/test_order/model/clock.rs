//! Minutes of tests, and how hard the engine is to reach.

use std::collections::BTreeMap;

use super::Bay;
use crate::domain::catalog::{Catalog, Test};
use crate::tally::test_order::TestOrderTally;

/// Fewest measured times that replace a starting assumption.
const ENOUGH_TIMES: u64 = 5;

/// Where a number of minutes comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MinutesFrom {
    /// Typed by the user.
    Given,
    /// Mean of measured minutes of this family's bank.
    Bank,
    /// Mean of measured minutes of this family.
    Family,
    /// The catalog.
    Assumed,
}

impl MinutesFrom {
    /// Stable id.
    pub fn id(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Bank => "measured_bank",
            Self::Family => "measured_family",
            Self::Assumed => "starting_assumption",
        }
    }
}

/// Recorded times, sorted by how much they say of this engine.
pub(super) struct Clock<'a> {
    bay: &'a Bay<'a>,
    pub access: (f64, u64),
    /// Measured times and their sum in hundredths, by test: this bank, this family.
    bank: BTreeMap<&'a str, (u64, i64)>,
    family: BTreeMap<&'a str, (u64, i64)>,
}

impl<'a> Clock<'a> {
    pub fn new(catalog: &Catalog, tally: &'a TestOrderTally, bay: &'a Bay<'a>) -> Self {
        let mut bank: BTreeMap<&str, (u64, i64)> = BTreeMap::new();
        let mut family: BTreeMap<&str, (u64, i64)> = BTreeMap::new();
        let bank_of = |n: i64| bay.family.and_then(|f| f.bank_of(f.cylinder(n)?));
        let own_bank = bay.cylinder.and_then(|c| bank_of(i64::from(c)));
        for step in tally.steps.iter().filter(|s| s.timed > 0) {
            if bay
                .family
                .is_none_or(|f| step.family.as_ref() != Some(&f.id))
            {
                continue;
            }
            let add = |to: &mut BTreeMap<&'a str, (u64, i64)>| {
                let sum = to.entry(step.test.as_str()).or_default();
                sum.0 += step.timed;
                sum.1 += step.hundredths;
            };
            add(&mut family);
            if own_bank.is_some() && step.cylinder.and_then(bank_of) == own_bank {
                add(&mut bank);
            }
        }
        let learnt = access(catalog, if bank.is_empty() { &family } else { &bank });
        Self {
            access: match bay.access {
                Some(given) => (given, 0),
                None => learnt,
            },
            bay,
            bank,
            family,
        }
    }

    pub fn minutes(&self, test: &Test) -> (f64, MinutesFrom, u64) {
        if let Some(given) = self.bay.minutes.get(&test.id) {
            return (*given, MinutesFrom::Given, 0);
        }
        let sources = [
            (&self.bank, MinutesFrom::Bank),
            (&self.family, MinutesFrom::Family),
        ];
        for (times, from) in sources {
            if let Some(&(n, sum)) = times.get(test.id.as_str()).filter(|t| t.0 >= ENOUGH_TIMES) {
                return (sum as f64 / 100.0 / n as f64, from, n);
            }
        }
        let assumed = test.minutes_easy + self.access.0 * (test.minutes_hard - test.minutes_easy);
        (assumed, MinutesFrom::Assumed, 0)
    }
}

/// Access from measured minutes: where they lie between those for easy and for hard access, by least squares.
fn access(catalog: &Catalog, times: &BTreeMap<&str, (u64, i64)>) -> (f64, u64) {
    let (mut above, mut span, mut timed) = (0.0, 0.0, 0);
    for (test, &(n, sum)) in times {
        if let Some(test) = catalog.test(test) {
            let width = test.minutes_hard - test.minutes_easy;
            above += width * (sum as f64 / 100.0 - n as f64 * test.minutes_easy);
            span += n as f64 * width * width;
            timed += n;
        }
    }
    match span > 0.0 && timed >= 4 * ENOUGH_TIMES {
        true => ((above / span).clamp(0.0, 1.0), timed),
        false => (0.0, 0),
    }
}
