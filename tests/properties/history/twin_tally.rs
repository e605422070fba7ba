//! Tallies of the twin: every stretch cut, carried and split into bands metre range by metre range.

use std::collections::{BTreeMap, BTreeSet};

use super::twin::{Episode, Stretch, Twin};

/// Family, site, model year, band (-1 unknown).
pub type Place = (Option<String>, String, Option<i64>, i64);

/// What a filter of the twin keeps.
#[derive(Debug, Clone, Default)]
pub struct Keep {
    pub families: Vec<String>,
    pub sites: Vec<String>,
    pub from: Option<i32>,
    pub to: Option<i32>,
    /// Exposure to the last sighting of any kind, and the failures there.
    pub to_last_sighting: bool,
    /// Cut-off to which exposure is carried.
    pub carried_to: Option<i32>,
}

impl Keep {
    fn exposure(&self, s: &Stretch) -> bool {
        let family = s.family.as_ref();
        (self.families.is_empty() || family.is_some_and(|f| self.families.contains(f)))
            && (self.sites.is_empty() || self.sites.contains(&s.site))
    }

    pub fn event(&self, e: &Episode) -> bool {
        let family = e.family.as_ref();
        (self.families.is_empty() || family.is_some_and(|f| self.families.contains(f)))
            && (self.sites.is_empty() || self.sites.contains(&e.site))
            && self.from.is_none_or(|d| e.opened >= d)
            && self.to.is_none_or(|d| e.opened <= d)
    }
}

/// Metres driven by the end of `day`, of a stretch, in whole metres.
fn driven(s: &Stretch, day: i64) -> i64 {
    let (entry, exit) = (i64::from(s.from.0), i64::from(s.to.0));
    let metres = s.to.1 - s.from.1;
    if day >= exit {
        metres
    } else if day <= entry {
        0
    } else {
        metres * (day - entry) / (exit - entry)
    }
}

fn carried(twin: &Twin, to: i32) -> Vec<Stretch> {
    let longer = |c: &&super::twin::Carry| c.day < to;
    let stretch = |c: &super::twin::Carry| {
        let metres = c.pace_m * i64::from(to - c.day) / c.pace_days;
        Stretch {
            vehicle: c.vehicle.clone(),
            engine: 0,
            segment: 0,
            site: c.site.clone(),
            family: c.family.clone(),
            year: c.year,
            clock: c.from.map(|m| (m, m + metres)),
            from: (c.day, 0),
            to: (to, metres),
            sighting: (to, metres),
            observed: true,
        }
    };
    twin.carries.iter().filter(longer).map(stretch).collect()
}

pub fn band_of(position: Option<i64>, edges: &[i64]) -> i64 {
    let Some(position) = position else { return -1 };
    edges.iter().filter(|e| **e <= position).count() as i64 - 1
}

/// Metres and vehicles at every place.
pub fn exposure(
    twin: &Twin,
    keep: &Keep,
    edges: &[i64],
) -> BTreeMap<Place, (i64, BTreeSet<String>)> {
    let mut all = twin.stretches.clone();
    if keep.to_last_sighting {
        for s in &mut all {
            s.to = s.sighting;
        }
    }
    if let Some(to) = keep.carried_to {
        all.extend(carried(twin, to));
    }
    let mut out: BTreeMap<Place, (i64, BTreeSet<String>)> = BTreeMap::new();
    for s in all.iter().filter(|s| keep.exposure(s)) {
        let left = keep.from.map_or(0, |d| driven(s, i64::from(d) - 1));
        let right = keep
            .to
            .map_or(s.to.1 - s.from.1, |d| driven(s, i64::from(d)));
        let mut add = |band: i64, metres: i64| {
            if metres > 0 {
                let place = (s.family.clone(), s.site.clone(), s.year, band);
                let cell = out.entry(place).or_default();
                cell.0 += metres;
                cell.1.insert(s.vehicle.clone());
            }
        };
        let Some((entry, _)) = s.clock else {
            add(-1, right - left);
            continue;
        };
        for (band, lower) in edges.iter().enumerate() {
            let upper = edges.get(band + 1).copied().unwrap_or(i64::MAX);
            let begin = (entry + left).max(*lower);
            let end = (entry + right).min(upper);
            add(band as i64, end - begin);
        }
    }
    out
}
