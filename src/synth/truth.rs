//! The truth beside the data: the rates that were put in, and what they did in this very fleet.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use crate::domain::problem::{AtFile, Result};
use crate::synth::mess::Mess;
use crate::synth::model::Model;
use crate::synth::record::{Case, VehicleLife};

/// (family, cause, cylinder, band), by number; cylinder 0 is the whole engine.
type Key = (usize, usize, u8, usize);

/// What happened to one key.
#[derive(Debug, Clone, Copy, Default)]
struct Happened {
    /// Failures of vehicles under observation that were brought in.
    events: u64,
    /// Failures that brought in an unknown vehicle.
    walk_ins: u64,
    /// Events that ended as a confirmed finding of the true cause at level 1 or above, and at level 2 or above.
    confirmed: [u64; 2],
}

/// Collects the truth while vehicles go by; its size does not grow with the fleet.
#[derive(Debug, Default)]
pub struct Truth {
    happened: BTreeMap<Key, Happened>,
    /// Observed metres by (family, band).
    observed: BTreeMap<(usize, usize), i64>,
    vehicles: u64,
    visits: u64,
    cases: u64,
    findings: u64,
}

impl Truth {
    /// Takes a vehicle into account.
    pub fn add(&mut self, model: &Model, life: &VehicleLife) {
        self.vehicles += 1;
        self.visits += life.visits.len() as u64;
        self.cases += life.cases.len() as u64;
        self.findings += life
            .cases
            .iter()
            .map(|c| c.findings.len() as u64)
            .sum::<u64>();
        for (from, to) in &life.observed {
            for (band, metres) in split(&model.scenario.band_edges_km, *from, *to) {
                *self.observed.entry((life.family, band)).or_default() += metres;
            }
        }
        for case in life.cases.iter().filter(|c| c.comeback_of.is_none()) {
            let Some(failure) = case.failure else {
                continue;
            };
            let band = band_of(&model.scenario.band_edges_km, failure.engine_m);
            let key = (life.family, failure.cause, failure.cylinder, band);
            let happened = self.happened.entry(key).or_default();
            if case.walk_in {
                happened.walk_ins += 1;
                continue;
            }
            happened.events += 1;
            let level = confirmed_level(life, case);
            happened.confirmed[0] += u64::from(level >= 1);
            happened.confirmed[1] += u64::from(level >= 2);
        }
    }

    /// Writes the truth's files below `folder`.
    pub fn write(&self, model: &Model, mess: &Mess, folder: &Path) -> Result<()> {
        let put = |name: &str, text: String| {
            let path = folder.join(name);
            std::fs::write(&path, text).at_file("write the truth", &path)
        };
        put("scenario.toml", model.scenario.to_toml()?)?;
        put("rates.csv", rates(model))?;
        put("events.csv", self.events(model))?;
        put("counts.csv", self.counts(mess))
    }

    fn events(&self, model: &Model) -> String {
        let s = &model.scenario;
        let mut text = String::from(
            "family,cause,cylinder,band_from_km,band_to_km,observed_m,events,walk_ins,\
             confirmed_1,confirmed_2,expected_confirmed_1\n",
        );
        for (f, c, cylinder, band) in keys(model) {
            let (family, cause) = (&s.families[f], &s.causes[c]);
            let metres = self.observed.get(&(f, band)).copied().unwrap_or(0);
            let h = self
                .happened
                .get(&(f, c, cylinder, band))
                .copied()
                .unwrap_or_default();
            let rate = s.hazard(family, cause, cylinder, band) * s.confirmed_share(cause, 1);
            let expected = rate * metres as f64 / 1e8;
            let _ = writeln!(
                text,
                "{},{metres},{},{},{},{},{expected:.6}",
                place(model, f, c, cylinder, band),
                h.events,
                h.walk_ins,
                h.confirmed[0],
                h.confirmed[1],
            );
        }
        text
    }

    fn counts(&self, mess: &Mess) -> String {
        let mut text = String::from("what,count\n");
        let own = [
            ("vehicles", self.vehicles),
            ("visits", self.visits),
            ("cases", self.cases),
            ("findings", self.findings),
            ("rows_written", mess.rows()),
        ];
        for (what, n) in own {
            let _ = writeln!(text, "{what},{n}");
        }
        for (kind, n) in mess.counts() {
            let _ = writeln!(text, "mess:{kind},{n}");
        }
        text
    }
}

/// The highest level at which the true cause of a failure was confirmed, in its case or in a comeback.
fn confirmed_level(life: &VehicleLife, case: &Case) -> u8 {
    let of_failure = life
        .cases
        .iter()
        .filter(|c| c.number == case.number || c.comeback_of == Some(case.number));
    of_failure
        .flat_map(|c| &c.findings)
        .filter(|f| case.failure.is_some_and(|t| t.cause == f.cause))
        .map(|f| f.confirmation)
        .max()
        .unwrap_or(0)
}

fn rates(model: &Model) -> String {
    let s = &model.scenario;
    let mut text = String::from(
        "family,cause,cylinder,band_from_km,band_to_km,failures_per_100000_km,\
         confirmed_1_per_100000_km,confirmed_2_per_100000_km\n",
    );
    for (f, c, cylinder, band) in keys(model) {
        let cause = &s.causes[c];
        let hazard = s.hazard(&s.families[f], cause, cylinder, band);
        let _ = writeln!(
            text,
            "{},{hazard:.8},{:.8},{:.8}",
            place(model, f, c, cylinder, band),
            hazard * s.confirmed_share(cause, 1),
            hazard * s.confirmed_share(cause, 2),
        );
    }
    text
}

/// Every family, cause, cylinder and band with a hazard.
fn keys(model: &Model) -> Vec<Key> {
    let s = &model.scenario;
    let mut list = Vec::new();
    for (f, family) in s.families.iter().enumerate() {
        for (c, cause) in s.causes.iter().enumerate() {
            for cylinder in 0..=family.cylinders {
                if cause.engine_wide == (cylinder == 0) {
                    list.extend((0..s.bands()).map(|band| (f, c, cylinder, band)));
                }
            }
        }
    }
    list
}

fn place(model: &Model, family: usize, cause: usize, cylinder: u8, band: usize) -> String {
    let s = &model.scenario;
    let edge = |i: usize| s.band_edges_km.get(i).map_or(String::new(), i64::to_string);
    let cylinder = if cylinder == 0 {
        String::new()
    } else {
        cylinder.to_string()
    };
    format!(
        "{},{},{cylinder},{},{}",
        s.families[family].id,
        s.causes[cause].id,
        edge(band),
        edge(band + 1)
    )
}

fn band_of(edges_km: &[i64], metres: i64) -> usize {
    edges_km
        .partition_point(|e| e * 1000 <= metres)
        .saturating_sub(1)
}

/// Metres of a stretch in each band that it touches.
fn split(edges_km: &[i64], from: i64, to: i64) -> impl Iterator<Item = (usize, i64)> + use<'_> {
    edges_km.iter().enumerate().filter_map(move |(band, edge)| {
        let end = edges_km.get(band + 1).map_or(i64::MAX, |e| e * 1000);
        let metres = to.min(end) - from.max(edge * 1000);
        (metres > 0).then_some((band, metres))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_is_split_at_the_edges_without_loss() {
        let edges = [0, 80, 160];
        let parts: Vec<_> = split(&edges, 70_500, 250_000).collect();
        assert_eq!(parts, [(0, 9_500), (1, 80_000), (2, 90_000)]);
        assert_eq!(band_of(&edges, 80_000), 1);
        assert_eq!(band_of(&edges, 79_999), 0);
    }
}
