//! Was the cylinder healthy when it was read? Judged by what its case, and its vehicle's other cases, say of it.
//!
//! - **Faulty**: the case has a confirmed finding on this cylinder whose cause the test is looked at for.
//! - **Other fault**: it has a confirmed finding on this cylinder, of a cause the test is not looked at for.
//! - **Healthy**: a fault was confirmed on another cylinder of the engine, and nothing accuses this one: no finding at any
//!   level, no complaint that names it, neither in this case nor in another of the vehicle within the comeback window; every
//!   confirmed finding of the case says its cylinder, and none is of a cause that opens into neighbouring cylinders.
//! - **Unverified**: everything else. It is no proof of health that nobody found a fault.
//!
//! A finding without a cylinder is taken to be on the one the complaint names.

use std::collections::BTreeMap;

use super::TestReading;
use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};
use crate::history::rows::Table;

/// What became of a reading.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Judgement {
    /// Shown to be healthy.
    Healthy,
    /// A fault of this cause was confirmed, which the test is looked at for.
    Faulty(String),
    /// A fault was confirmed that the test is not looked at for.
    OtherFault,
    /// Not known.
    Unverified(Unverified),
}

/// Why it is not known whether a cylinder was healthy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unverified {
    /// The reading does not say its cylinder, or says one that the family does not have.
    NoCylinder,
    /// A complaint or an unconfirmed finding names the cylinder.
    Accused,
    /// No cause was confirmed in the case.
    NothingConfirmed,
    /// A confirmed finding does not say its cylinder.
    Unplaced,
    /// The confirmed fault may reach neighbouring cylinders.
    MayReachNeighbours,
}

impl Unverified {
    /// All reasons.
    pub const ALL: [Unverified; 5] = [
        Self::NoCylinder,
        Self::Accused,
        Self::NothingConfirmed,
        Self::Unplaced,
        Self::MayReachNeighbours,
    ];

    /// Stable id.
    pub fn id(self) -> &'static str {
        match self {
            Self::NoCylinder => "cylinder-unknown",
            Self::Accused => "accused",
            Self::NothingConfirmed => "nothing-confirmed",
            Self::Unplaced => "fault-without-cylinder",
            Self::MayReachNeighbours => "fault-may-reach-neighbours",
        }
    }

    /// In words.
    pub fn title(self) -> &'static str {
        match self {
            Self::NoCylinder => "cylinder unknown, or one the engine does not have",
            Self::Accused => "named by a complaint or by a finding that was not confirmed",
            Self::NothingConfirmed => "no cause confirmed in the case",
            Self::Unplaced => "the confirmed cause names no cylinder",
            Self::MayReachNeighbours => "the confirmed cause may reach neighbouring cylinders",
        }
    }
}

/// What the judge goes by.
#[derive(Debug, Clone)]
pub struct Rule<'a> {
    /// Least confirmation level of a finding that counts.
    pub confirmation: i64,
    /// A cylinder accused within this many days, before or after, is not healthy.
    pub window_days: i64,
    /// Causes the test is looked at for; none: every cause.
    pub shown: Vec<&'a str>,
    /// Causes that may reach neighbouring cylinders.
    pub reaching: Vec<&'a str>,
    /// Cylinders the family has.
    pub cylinders: u8,
}

/// One finding of a case.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Finding {
    cause: String,
    cylinder: Option<i64>,
    confirmation: i64,
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Case {
    vehicle: String,
    opened: Day,
    complaint: Option<i64>,
    findings: Vec<Finding>,
}

impl Case {
    fn place(&self, finding: &Finding) -> Option<i64> {
        finding.cylinder.or(self.complaint)
    }

    fn names(&self, cylinder: i64) -> bool {
        self.complaint == Some(cylinder)
            || self.findings.iter().any(|f| f.cylinder == Some(cylinder))
    }
}

/// The cases of the vehicles that have readings.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Accusations {
    cases: BTreeMap<(String, String), Case>,
    by_vehicle: BTreeMap<String, Vec<(String, String)>>,
}

impl Accusations {
    /// From the rows of `test_accusations`.
    pub(super) fn read(table: &Table<'_>) -> Result<Self> {
        let mut out = Self::default();
        let case = table
            .names("vehicle")?
            .into_iter()
            .zip(table.day("opened")?)
            .zip(table.text("source")?)
            .zip(table.text("case_id")?)
            .zip(table.whole("complaint_cylinder")?);
        let finding = table
            .text("cause")?
            .into_iter()
            .zip(table.whole("cylinder")?)
            .zip(table.count("confirmation")?);
        for (
            ((((vehicle, opened), source), case_id), complaint),
            ((cause, cylinder), confirmation),
        ) in case.zip(finding)
        {
            let (Some(vehicle), Some(opened), Some(source), Some(case_id)) =
                (vehicle, opened, source, case_id)
            else {
                return Err(Problem::data("a case came without vehicle, day or number"));
            };
            let finding = cause.map(|cause| Finding {
                cause,
                cylinder,
                confirmation,
            });
            out.add((source, case_id), vehicle, opened, complaint, finding);
        }
        Ok(out)
    }

    fn add(
        &mut self,
        id: (String, String),
        vehicle: String,
        opened: Day,
        complaint: Option<i64>,
        finding: Option<Finding>,
    ) {
        let case = self.cases.entry(id.clone()).or_insert_with(|| {
            self.by_vehicle.entry(vehicle.clone()).or_default().push(id);
            Case {
                vehicle,
                opened,
                complaint,
                findings: Vec::new(),
            }
        });
        case.findings.extend(finding);
    }

    /// Judges one reading.
    pub fn judge(&self, reading: &TestReading, rule: &Rule<'_>) -> Judgement {
        let cylinder = match reading.cylinder {
            Some(c) if (1..=i64::from(rule.cylinders)).contains(&c) => c,
            _ => return Judgement::Unverified(Unverified::NoCylinder),
        };
        let Some(case) = self.cases.get(&reading.case) else {
            return Judgement::Unverified(Unverified::NothingConfirmed);
        };
        let confirmed: Vec<&Finding> = case
            .findings
            .iter()
            .filter(|f| f.confirmation >= rule.confirmation)
            .collect();
        let own: Vec<&&Finding> = confirmed
            .iter()
            .filter(|f| case.place(f) == Some(cylinder))
            .collect();
        let shown = |f: &&&Finding| rule.shown.is_empty() || rule.shown.contains(&f.cause.as_str());
        // The surest first, then the first found.
        let surest = own
            .iter()
            .filter(|f| shown(f))
            .rev()
            .max_by_key(|f| f.confirmation);
        if let Some(finding) = surest {
            return Judgement::Faulty(finding.cause.clone());
        }
        if !own.is_empty() {
            return Judgement::OtherFault;
        }
        let reaches = |f: &&Finding| rule.reaching.contains(&f.cause.as_str());
        let unverified = if case.names(cylinder) || self.accused_nearby(case, cylinder, rule) {
            Unverified::Accused
        } else if confirmed.is_empty() {
            Unverified::NothingConfirmed
        } else if confirmed.iter().any(|f| case.place(f).is_none()) {
            Unverified::Unplaced
        } else if confirmed.iter().any(reaches) {
            Unverified::MayReachNeighbours
        } else {
            return Judgement::Healthy;
        };
        Judgement::Unverified(unverified)
    }

    fn accused_nearby(&self, case: &Case, cylinder: i64, rule: &Rule<'_>) -> bool {
        let near = |other: &Case| {
            (i64::from(other.opened.0) - i64::from(case.opened.0)).abs() <= rule.window_days
        };
        self.by_vehicle
            .get(&case.vehicle)
            .into_iter()
            .flatten()
            .filter_map(|id| self.cases.get(id))
            .any(|other| near(other) && other.names(cylinder))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::unit::Unit;

    fn case_id(case: &str) -> (String, String) {
        ("desk".to_owned(), case.to_owned())
    }

    /// Case, day, complaint cylinder, findings as cause, cylinder and level.
    type Told<'a> = (&'a str, i32, Option<i64>, &'a [(&'a str, Option<i64>, i64)]);

    fn accusations(rows: &[Told<'_>]) -> Accusations {
        let mut out = Accusations::default();
        for (case, day, complaint, findings) in rows {
            let mut add = |f| out.add(case_id(case), "V".into(), Day(*day), *complaint, f);
            add(None);
            for (cause, cylinder, confirmation) in *findings {
                add(Some(Finding {
                    cause: (*cause).to_owned(),
                    cylinder: *cylinder,
                    confirmation: *confirmation,
                }));
            }
        }
        out
    }

    fn judged(accusations: &Accusations, case: &str, day: i32) -> Vec<Judgement> {
        let rule = Rule {
            confirmation: 1,
            window_days: 30,
            shown: vec!["exhaust_valve_leak", "head_gasket"],
            reaching: vec!["head_gasket"],
            cylinders: 4,
        };
        (1..=5)
            .map(|cylinder| {
                let reading = TestReading {
                    family: "alder-4".into(),
                    test: "cranking_compression".into(),
                    vehicle: "V".into(),
                    site: None,
                    opened: Day(day),
                    case: case_id(case),
                    cylinder: Some(cylinder),
                    unit: Unit::Kilopascal,
                    value: 900.0,
                    leak_path: None,
                };
                accusations.judge(&reading, &rule)
            })
            .collect()
    }

    fn not_known(reason: Unverified) -> Judgement {
        Judgement::Unverified(reason)
    }

    #[test]
    fn the_others_of_a_confirmed_fault_are_healthy() {
        let a = accusations(&[("1", 0, Some(3), &[("exhaust_valve_leak", Some(3), 2)])]);
        let (good, none) = (Judgement::Healthy, not_known(Unverified::NoCylinder));
        let faulty = Judgement::Faulty("exhaust_valve_leak".into());
        assert_eq!(
            judged(&a, "1", 0),
            [good.clone(), good.clone(), faulty, good, none]
        );
    }

    #[test]
    fn whoever_is_named_is_not_healthy() {
        // The complaint names 1, parts were fitted on 2, the coil of 3 was verified, 4 came back 20 days later.
        let a = accusations(&[
            (
                "1",
                0,
                Some(1),
                &[("spark_plug", Some(2), 0), ("ignition_coil", Some(3), 1)],
            ),
            ("2", 20, Some(4), &[]),
            ("3", 51, Some(3), &[]),
        ]);
        let accused = not_known(Unverified::Accused);
        let found = judged(&a, "1", 0);
        assert_eq!(
            found[..4],
            [
                accused.clone(),
                accused.clone(),
                Judgement::OtherFault,
                accused
            ]
        );
    }

    #[test]
    fn without_proof_nothing_is_known() {
        let none = accusations(&[("1", 0, None, &[])]);
        assert_eq!(
            judged(&none, "1", 0)[0],
            not_known(Unverified::NothingConfirmed)
        );
        let fitted = accusations(&[("1", 0, None, &[("spark_plug", Some(2), 0)])]);
        assert_eq!(
            judged(&fitted, "1", 0)[0],
            not_known(Unverified::NothingConfirmed)
        );
        let unplaced = accusations(&[("1", 0, None, &[("spark_plug", None, 1)])]);
        assert_eq!(
            judged(&unplaced, "1", 0)[0],
            not_known(Unverified::Unplaced)
        );
        let gasket = accusations(&[("1", 0, None, &[("head_gasket", Some(2), 3)])]);
        assert_eq!(
            judged(&gasket, "1", 0)[0],
            not_known(Unverified::MayReachNeighbours)
        );
        // A finding without a cylinder belongs to the one the complaint names.
        let placed = accusations(&[("1", 0, Some(2), &[("exhaust_valve_leak", None, 1)])]);
        assert_eq!(judged(&placed, "1", 0)[0], Judgement::Healthy);
        assert_eq!(
            judged(&placed, "1", 0)[1],
            Judgement::Faulty("exhaust_valve_leak".into())
        );
    }
}
