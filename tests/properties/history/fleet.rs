//! Invented fleets with every trouble that exports bring: typing errors, rollbacks, changed clusters, replaced engines,
//! same-day rows, unknown odometers, re-exported and edited records, comebacks, findings without a case.

use std::collections::BTreeMap;

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::rows::{Case, Finding, Origin, Records, Visit};
use boretally::domain::table::Table;
use boretally::domain::version;

const SITES: [&str; 3] = ["Ashby", "Birchley", "Cedarton"];
const FAMILIES: [&str; 2] = ["alder-4", "rowan-3"];
const CAUSES: [&str; 3] = ["exhaust_valve_leak", "ignition_coil", "spark_plug"];
const OUTCOMES: [&str; 2] = ["no_fault_found", "not_reproduced"];
const DAY_0: i32 = 19_000;

struct Maker {
    random: ChaCha8Rng,
    records: Records,
    next: i64,
}

pub fn fleet(seed: u64, vehicles: usize) -> Records {
    let mut maker = Maker {
        random: ChaCha8Rng::seed_from_u64(seed),
        records: Records::default(),
        next: 0,
    };
    for number in 0..vehicles {
        maker.vehicle(&format!("v{number:03}"));
    }
    maker.edit_some();
    maker.records
}

impl Maker {
    fn one_in(&mut self, n: u32) -> bool {
        self.random.random_range(0..n) == 0
    }

    fn pick<'a>(&mut self, from: &[&'a str]) -> &'a str {
        from[self.random.random_range(0..from.len())]
    }

    fn maybe<T>(&mut self, one_in: u32, value: T) -> Option<T> {
        (!self.one_in(one_in)).then_some(value)
    }

    fn origin(&mut self, record: String) -> Origin {
        self.next += 1;
        let source = if self.next % 7 == 0 { "south" } else { "north" };
        // Some records share the upper bits of their digests with others.
        let key = match self.next % 5 {
            0 => 0,
            _ => version::key_hash(source, Table::Visits, &record),
        };
        Origin {
            source: source.to_owned(),
            record,
            digest: version::digest(key, self.next as u64),
            line: self.next,
            export_date: None,
            batch: 1,
        }
    }

    fn vehicle(&mut self, vehicle: &str) {
        let family = self.pick(&FAMILIES).to_owned();
        let home = self.pick(&SITES);
        let year = self.random.random_range(2015..2018);
        let mut day = DAY_0 + self.random.random_range(0..60);
        let mut odometer: i64 = self.random.random_range(0..250) * 1_000_000;
        for _ in 0..self.random.random_range(1..9) {
            let site = if self.one_in(5) {
                self.pick(&SITES)
            } else {
                home
            }
            .to_owned();
            let mut shown = Some(odometer);
            match self.random.random_range(0..24) {
                0 => shown = None,
                1 => shown = Some(odometer / 10),
                2 => shown = Some(odometer * 10),
                3 => odometer = self.random.random_range(0..20) * 1_000_000,
                4 => odometer += 300_000_000,
                _ => {}
            }
            let family = self.maybe(6, family.clone());
            let year = self.maybe(6, year);
            if self.one_in(3) {
                self.case(vehicle, &site, day, shown, family, year);
            } else {
                self.visit(vehicle, &site, day, shown, family, year);
            }
            if !self.one_in(4) {
                day += self.random.random_range(0..90);
            }
            if !self.one_in(5) {
                odometer += self.random.random_range(0..40_000) * 1000;
            }
        }
    }

    fn visit(
        &mut self,
        vehicle: &str,
        site: &str,
        date: i32,
        odometer_m: Option<i64>,
        family: Option<String>,
        year: Option<i64>,
    ) {
        let replaced = self.one_in(12).then_some(true).or(Some(false));
        let replaced = if self.one_in(3) { None } else { replaced };
        let record = format!("visit {}", self.next);
        let origin = self.origin(record);
        self.records.visits.push(Visit {
            vehicle: vehicle.to_owned(),
            site: site.to_owned(),
            date,
            odometer_m,
            family,
            year,
            replaced,
            origin,
        });
    }

    fn case(
        &mut self,
        vehicle: &str,
        site: &str,
        opened: i32,
        odometer_m: Option<i64>,
        family: Option<String>,
        year: Option<i64>,
    ) {
        let case_id = format!("case {}", self.next);
        let origin = self.origin(case_id.clone());
        let days = self.random.random_range(0..8) - 1;
        let cylinder = self.random.random_range(1..4);
        let found = self.random.random_range(0..4);
        let closed = self.maybe(3, opened + days);
        let cylinder_named = self.maybe(3, cylinder);
        let codes = self.maybe(3, format!("P030{cylinder} P0420"));
        let outcome = if found == 0 {
            self.pick(&OUTCOMES)
        } else {
            "confirmed"
        }
        .to_owned();
        let source = origin.source.clone();
        self.records.cases.push(Case {
            case_id: case_id.clone(),
            vehicle: vehicle.to_owned(),
            site: site.to_owned(),
            opened,
            closed,
            family,
            year,
            odometer_m,
            codes,
            cylinder: cylinder_named,
            outcome,
            origin,
        });
        for _ in 0..found {
            self.finding(&case_id, &source, cylinder);
        }
        if self.one_in(10) {
            self.finding("no such case", &source, cylinder);
        }
    }

    fn finding(&mut self, case_id: &str, source: &str, cylinder: i64) {
        let record = format!("finding {}", self.next);
        let mut origin = self.origin(record);
        origin.source = source.to_owned();
        let cylinder = if self.one_in(4) {
            cylinder + 1
        } else {
            cylinder
        };
        let repair = match self.random.random_range(0..14) {
            0 => Some("engine_replace"),
            1 => Some("short_block_replace"),
            2 => Some("vehicle_retired"),
            3..8 => Some("head_repair"),
            _ => None,
        };
        let cause = self.pick(&CAUSES).to_owned();
        let cylinder = self.maybe(4, cylinder);
        let confirmation = self.random.random_range(0..4);
        self.records.findings.push(Finding {
            case_id: case_id.to_owned(),
            cause,
            cylinder,
            confirmation,
            repair: repair.map(str::to_owned),
            origin,
        });
    }

    /// Re-exports a part of the records later, some of them edited: the newest version must win.
    fn edit_some(&mut self) {
        for i in 0..self.records.visits.len() {
            if self.one_in(6) {
                let mut later = self.records.visits[i].clone();
                self.newer(&mut later.origin);
                if self.one_in(2) {
                    later.odometer_m = later.odometer_m.map(|m| m + 1_000_000);
                }
                self.records.visits.push(later);
            }
        }
        for i in 0..self.records.cases.len() {
            if self.one_in(6) {
                let mut later = self.records.cases[i].clone();
                self.newer(&mut later.origin);
                later.closed = Some(later.opened + 2);
                self.records.cases.push(later);
            }
        }
        for i in 0..self.records.findings.len() {
            if self.one_in(6) {
                let mut later = self.records.findings[i].clone();
                self.newer(&mut later.origin);
                later.confirmation = 3 - later.confirmation;
                self.records.findings.push(later);
            }
        }
    }

    fn newer(&mut self, origin: &mut Origin) {
        self.next += 1;
        origin.digest += self.next - origin.digest % version::CONTENTS;
        if self.one_in(2) {
            origin.export_date = Some(DAY_0 + 500);
        } else {
            origin.batch = 2;
        }
    }
}

/// The same rows in another order, spread over other batches in a way that keeps every version's age.
pub fn shuffled(records: &Records, seed: u64) -> Records {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut out = records.clone();
    let mut renumber = |o: &mut Origin| o.batch = o.batch * 10 + random.random_range(0..3);
    out.visits.iter_mut().for_each(|v| renumber(&mut v.origin));
    out.cases.iter_mut().for_each(|c| renumber(&mut c.origin));
    // The findings of a case that came in one batch stay in one: they are replaced as a set.
    let mut sets: BTreeMap<(String, String, i64), i64> = BTreeMap::new();
    for f in &mut out.findings {
        let set = (f.origin.source.clone(), f.case_id.clone(), f.origin.batch);
        renumber(&mut f.origin);
        f.origin.batch = *sets.entry(set).or_insert(f.origin.batch);
    }
    shuffle(&mut out.visits, &mut random);
    shuffle(&mut out.cases, &mut random);
    shuffle(&mut out.findings, &mut random);
    out
}

fn shuffle<T>(rows: &mut [T], random: &mut impl Rng) {
    for i in (1..rows.len()).rev() {
        rows.swap(i, random.random_range(0..=i));
    }
}
