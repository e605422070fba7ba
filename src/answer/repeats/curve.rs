//! The mean cumulative function of one group: from windows and failures to estimates at chosen places.

use std::collections::BTreeMap;

use super::types::{AtRisk, MeanPoint, Trend};
use crate::answer::parts::Estimate;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::interval::normal_deviate;
use crate::stats::recurrence::{
    MeanAt, MeanCumulativeFunction, RecurrenceRow, RecurrenceTable, RobustVariance, Truncation,
    laplace,
};
use crate::stats::survival::Transformation;
use crate::tally::repeats::{RepeatEvent, WatchedSet, Window};

/// Most places of repairs at which a curve is given.
const MOST_POINTS: usize = 200;

/// Name of the variance and of the scale of its limits.
const METHOD: &str = "lawless-nadeau-log";

/// Stretches, or places with amounts, of one vehicle.
type Pairs = Vec<(f64, f64)>;

/// A mean with its variance at the places asked for, and the number at risk anywhere.
pub(super) struct Curve {
    mean: MeanCumulativeFunction,
    at_risk: BTreeMap<i64, u64>,
    variances: BTreeMap<i64, f64>,
    repairs: Vec<i64>,
    level: f64,
}

impl Curve {
    /// The curve of `events`, each with its amount, over the windows of `set`; `marks` are places at which it is wanted besides
    /// those of the events.
    pub fn new(
        set: &WatchedSet,
        events: &[(RepeatEvent, f64)],
        marks: &[i64],
        level: f64,
    ) -> Result<Self> {
        let table = told(RecurrenceTable::gather(rows(set, events, marks)))?;
        let mean = MeanCumulativeFunction::new(&table);
        let at_risk = table
            .with_risk_sets()
            .map(|(row, open)| (row.distance as i64, open));
        let at_risk: BTreeMap<i64, u64> = at_risk.collect();
        let mut repairs: Vec<i64> = events.iter().map(|(e, _)| e.position_m).collect();
        repairs.sort_unstable();
        let mut wanted: Vec<i64> = shown(&repairs);
        wanted.extend(marks);
        wanted.sort_unstable();
        wanted.dedup();
        let variances = variances(set, events, &mean, &wanted);
        Ok(Self {
            mean,
            at_risk,
            variances,
            repairs,
            level,
        })
    }

    /// Vehicles under observation at a mark or the place of a repair.
    pub fn at_risk(&self, distance_m: i64) -> u64 {
        self.at_risk.get(&distance_m).copied().unwrap_or(0)
    }

    /// The numbers under observation at all marks.
    pub fn at_risk_along(&self, marks: &[i64]) -> Vec<AtRisk> {
        let point = |&distance_m: &i64| AtRisk {
            distance_m,
            vehicles: self.at_risk(distance_m),
        };
        marks.iter().map(point).collect()
    }

    /// Where the last repair was.
    pub fn last_repair(&self) -> Option<i64> {
        self.repairs.last().copied()
    }

    /// The estimate at a place it was prepared for, in units of `1 / scale`.
    pub fn point(&self, distance_m: i64, scale: f64) -> Result<MeanPoint> {
        let mean = self.mean.at(distance_m as f64);
        let variance = self.variances.get(&distance_m).copied().unwrap_or(0.0);
        let deviate = told(normal_deviate(self.level))?;
        // On the log scale, so that no limit is negative; a mean of negative costs has no such scale.
        let estimate = (mean > 0.0).then(|| {
            let limits = Transformation::Log.limits(mean, variance.sqrt() / mean, deviate);
            Estimate {
                value: mean * scale,
                lower: limits.lower * scale,
                upper: Some(limits.upper * scale),
                level: self.level,
                method: METHOD.to_string(),
            }
        });
        Ok(MeanPoint {
            distance_m,
            mean: estimate,
            at_risk: self.at_risk(distance_m),
            repairs: self.repairs.partition_point(|r| *r <= distance_m) as u64,
        })
    }

    /// The estimates at the places of repairs, thinned to what can be shown.
    pub fn points(&self) -> Result<Vec<MeanPoint>> {
        let places = shown(&self.repairs);
        places.into_iter().map(|at| self.point(at, 1.0)).collect()
    }

    /// Mean and variance wherever they are known, for differences.
    pub fn steps(&self) -> Vec<MeanAt> {
        let at = |(&distance, &variance): (&i64, &f64)| MeanAt {
            distance: distance as f64,
            mean: self.mean.at(distance as f64),
            variance,
        };
        self.variances.iter().map(at).collect()
    }
}

/// Distinct places, or of too many an even choice that keeps the last.
fn shown(sorted: &[i64]) -> Vec<i64> {
    let mut places = sorted.to_vec();
    places.dedup();
    if places.len() <= MOST_POINTS {
        return places;
    }
    (1..=MOST_POINTS)
        .filter_map(|i| places.get(i * places.len() / MOST_POINTS - 1).copied())
        .collect()
}

fn rows(set: &WatchedSet, events: &[(RepeatEvent, f64)], marks: &[i64]) -> Vec<RecurrenceRow> {
    let metres = |m: i64| m as f64;
    let quiet = set
        .quiet
        .iter()
        .flat_map(|q| RecurrenceRow::window(metres(q.from_m), metres(q.to_m), q.vehicles));
    let followed = set
        .vehicles
        .values()
        .flat_map(|v| &v.windows)
        .flat_map(|w| RecurrenceRow::window(metres(w.from_m), metres(w.to_m), 1));
    let events = events
        .iter()
        .map(|(e, amount)| RecurrenceRow::event(metres(e.position_m), *amount));
    let marks = marks.iter().map(|m| RecurrenceRow::empty(metres(*m)));
    quiet.chain(followed).chain(events).chain(marks).collect()
}

fn variances(
    set: &WatchedSet,
    events: &[(RepeatEvent, f64)],
    mean: &MeanCumulativeFunction,
    wanted: &[i64],
) -> BTreeMap<i64, f64> {
    let mut gathered = RobustVariance::new(mean, wanted.iter().map(|m| *m as f64).collect());
    for quiet in &set.quiet {
        let window = (quiet.from_m as f64, quiet.to_m as f64);
        gathered.add_alike(&[window], &[], quiet.vehicles);
    }
    let mut by_vehicle: BTreeMap<usize, Pairs> = BTreeMap::new();
    for (event, amount) in events {
        let of = by_vehicle.entry(event.vehicle).or_default();
        of.push((event.position_m as f64, *amount));
    }
    let mut lives: Vec<(Pairs, Pairs)> = Vec::new();
    for (number, vehicle) in &set.vehicles {
        let windows: Pairs = vehicle.windows.iter().map(stretch).collect();
        let mut events = by_vehicle.remove(number).unwrap_or_default();
        events.sort_by(|a, b| a.0.total_cmp(&b.0));
        lives.push((windows, events));
    }
    // Pseudonyms order vehicles, and another key orders them otherwise; the sums must not depend on it.
    lives.sort_by_cached_key(|(windows, events)| (bits(windows), bits(events)));
    for (windows, events) in &lives {
        gathered.add_alike(windows, events, 1);
    }
    let variances = wanted.iter().copied().zip(gathered.variances());
    variances
        .map(|(at, (_, variance))| (at, variance))
        .collect()
}

/// An order of pairs: distances and amounts are not negative, so their bits rise with them.
fn bits(pairs: &[(f64, f64)]) -> Vec<(u64, u64)> {
    let bits = |pair: &(f64, f64)| (pair.0.to_bits(), pair.1.to_bits());
    pairs.iter().map(bits).collect()
}

fn stretch(window: &Window) -> (f64, f64) {
    (window.from_m as f64, window.to_m as f64)
}

/// Laplace's test over the windows with repairs. A repair that ended its window did not fall there at random, and is left out.
pub(super) fn trend(set: &WatchedSet, events: &[RepeatEvent]) -> Option<Trend> {
    let mut by_vehicle: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for event in events {
        let of = by_vehicle.entry(event.vehicle).or_default();
        of.push(event.position_m as f64);
    }
    let mut processes: Vec<(f64, f64, Vec<f64>)> = Vec::new();
    for (number, mut places) in by_vehicle {
        for window in set.vehicles.get(&number).iter().flat_map(|v| &v.windows) {
            let (from, to) = stretch(window);
            let inside = |place: &f64| from < *place && *place <= to;
            let mut here: Vec<f64> = places.iter().copied().filter(inside).collect();
            // Windows of two engines may overlap: each repair is tested in one of them.
            places.retain(|place| !inside(place));
            here.retain(|place| *place < to);
            processes.push((from, to, here));
        }
    }
    processes.sort_by_cached_key(|(from, to, events)| {
        let events: Vec<u64> = events.iter().map(|e| e.to_bits()).collect();
        (from.to_bits(), to.to_bits(), events)
    });
    let processes: Vec<(f64, f64, &[f64])> = processes
        .iter()
        .filter(|(.., events)| !events.is_empty())
        .map(|(from, to, events)| (*from, *to, events.as_slice()))
        .collect();
    let repairs = processes.iter().map(|(.., e)| e.len() as u64).sum();
    let test = laplace(&processes, Truncation::Distance).ok()?;
    Some(Trend {
        laplace: test.statistic,
        p: test.p_two_sided(),
        repairs,
    })
}
