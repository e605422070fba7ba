//! The scores of Gray's test in one stratum and their covariance, in the letters of [`super::gray_test()`].

use super::gray_test::CauseSample;
use crate::stats::Error;

/// Failures of one group at one distance.
struct Failed {
    distance: f64,
    group: usize,
    /// By the cause.
    own: f64,
    /// By the others.
    others: f64,
}

/// The samples of one stratum with their failures in order.
pub(super) struct Stratum<'a> {
    samples: &'a [CauseSample<'a>],
    failed: Vec<Failed>,
    /// The distance up to which each group can be followed.
    known_to: Vec<f64>,
}

/// One group at one distance.
#[derive(Debug, Clone, Copy)]
struct Here {
    /// Lives at risk; 0 for a group that is not followed any more.
    at_risk: f64,
    /// S just before and just after.
    survival: [f64; 2],
    /// F of the cause just before.
    incidence: f64,
    own: f64,
    others: f64,
    /// n / S: at risk, had nobody failed.
    weight: f64,
}

/// All groups at one distance with failures.
struct Moment {
    groups: Vec<Here>,
    /// Sum of the weights.
    weight: f64,
    /// Failures by the cause.
    own: f64,
    /// The pooled incidence just before and just after.
    pooled: [f64; 2],
}

impl<'a> Stratum<'a> {
    pub(super) fn new(samples: &'a [CauseSample<'a>]) -> Result<Self, Error> {
        let mut starts = samples.iter().filter_map(|s| s.lives.first_entry());
        let start = starts.next();
        if starts.any(|other| Some(other) != start) {
            return Err(Error::Input {
                name: "strata",
                requirement: "all groups of a stratum must be followed from one distance on",
            });
        }
        let mut failed = Vec::new();
        for (group, sample) in samples.iter().enumerate() {
            failed.extend(failures(group, sample)?);
        }
        failed.sort_by(|a, b| {
            a.distance
                .total_cmp(&b.distance)
                .then(a.group.cmp(&b.group))
        });
        let known_to = samples.iter().map(|sample| {
            let gaps = sample.lives.gaps();
            gaps.first().map_or(f64::INFINITY, |gap| gap.0)
        });
        Ok(Self {
            samples,
            failed,
            known_to: known_to.collect(),
        })
    }

    /// Walks over the distances with failures.
    fn walk(&self, mut each: impl FnMut(&Moment)) {
        let mut states = vec![(1.0, 0.0); self.samples.len()];
        let mut pooled = 0.0;
        for tied in self.failed.chunk_by(|a, b| a.distance == b.distance) {
            let distance = tied.first().map_or(0.0, |f| f.distance);
            let mut groups: Vec<Here> = Vec::with_capacity(states.len());
            for ((sample, &(survival, incidence)), &known_to) in
                self.samples.iter().zip(&states).zip(&self.known_to)
            {
                let followed = distance <= known_to && survival > 0.0;
                let at_risk = if followed {
                    sample.lives.at_risk(distance) as f64
                } else {
                    0.0
                };
                groups.push(Here {
                    at_risk,
                    survival: [survival; 2],
                    incidence,
                    own: 0.0,
                    others: 0.0,
                    weight: if at_risk > 0.0 {
                        at_risk / survival
                    } else {
                        0.0
                    },
                });
            }
            for f in tied {
                if let Some(here) = groups.get_mut(f.group).filter(|h| h.at_risk > 0.0) {
                    let [before, after] = &mut here.survival;
                    *after = *before * (here.at_risk - f.own - f.others) / here.at_risk;
                    (here.own, here.others) = (f.own, f.others);
                }
            }
            let weight: f64 = groups.iter().map(|h| h.weight).sum();
            if weight <= 0.0 {
                continue;
            }
            let own: f64 = groups.iter().map(|h| h.own).sum();
            let moment = Moment {
                pooled: [pooled, pooled + own / weight],
                groups,
                weight,
                own,
            };
            each(&moment);
            [_, pooled] = moment.pooled;
            for (state, here) in states.iter_mut().zip(&moment.groups) {
                let [before, after] = here.survival;
                let gained = if here.at_risk > 0.0 {
                    before * here.own / here.at_risk
                } else {
                    0.0
                };
                *state = (after, here.incidence + gained);
            }
        }
    }

    /// Adds observed and expected failures.
    pub(super) fn score(&self, observed: &mut [f64], expected: &mut [f64]) {
        self.walk(|moment| {
            let at_risk = |h: &Here| h.weight * (1.0 - h.incidence);
            let all: f64 = moment.groups.iter().map(at_risk).sum();
            let sums = observed.iter_mut().zip(expected.iter_mut());
            for ((o, e), here) in sums.zip(&moment.groups) {
                *o += here.own;
                *e += moment.own * at_risk(here) / all;
            }
        });
    }

    /// Adds the covariance of the scores: for each group r, squares of how a failure there moves all scores, now through the
    /// risk sets and later through S_r and F_r.
    pub(super) fn spread(&self, covariance: &mut [Vec<f64>]) {
        let groups = self.samples.len();
        // c_kr, the weight that what happens from here on gives to group r in the score of group k.
        let mut ahead = vec![vec![0.0; groups]; groups];
        self.walk(|moment| moment.add_pull(&mut ahead, 1.0));
        self.walk(|moment| {
            moment.add_pull(&mut ahead, -1.0);
            for (r, here) in moment.groups.iter().enumerate() {
                let [before, after] = here.survival;
                if here.at_risk <= 0.0 {
                    continue;
                }
                let left = 1.0 - moment.pooled[1];
                let lost = if after > 0.0 { left / after } else { 0.0 };
                if moment.own > 0.0 {
                    let tied = without_replacement(moment.own, moment.weight * before);
                    let size = tied * moment.own / (moment.weight * here.weight);
                    let later = 1.0 - lost;
                    let moved = (0..groups).map(|k| moment.pull(k, r) + later * get(&ahead, k, r));
                    add_square(covariance, &moved.collect::<Vec<f64>>(), size);
                }
                if here.others > 0.0 {
                    let tied = without_replacement(here.others, here.at_risk);
                    let size = tied * here.others / (here.weight * here.weight);
                    let moved = (0..groups).map(|k| -lost * get(&ahead, k, r));
                    add_square(covariance, &moved.collect::<Vec<f64>>(), size);
                }
            }
        });
    }
}

impl Moment {
    /// h_k (delta_kr - h_r / h).
    fn pull(&self, k: usize, r: usize) -> f64 {
        let weight = |i: usize| self.groups.get(i).map_or(0.0, |h| h.weight);
        let same = if k == r { 1.0 } else { 0.0 };
        weight(k) * (same - weight(r) / self.weight)
    }

    /// Adds the pulls of this distance, by the pooled subdistribution hazard.
    fn add_pull(&self, sums: &mut [Vec<f64>], sign: f64) {
        if self.own <= 0.0 {
            return;
        }
        let hazard = sign * self.own / (self.weight * (1.0 - self.pooled[0]));
        for (k, row) in sums.iter_mut().enumerate() {
            for (r, cell) in row.iter_mut().enumerate() {
                *cell += hazard * self.pull(k, r);
            }
        }
    }
}

/// The factor 1 - (d - 1) / (n - 1) of d tied failures among n.
fn without_replacement(failed: f64, among: f64) -> f64 {
    if failed > 1.0 {
        1.0 - (failed - 1.0) / (among - 1.0)
    } else {
        1.0
    }
}

fn get(matrix: &[Vec<f64>], k: usize, r: usize) -> f64 {
    let row = matrix.get(k);
    row.and_then(|row| row.get(r)).copied().unwrap_or(0.0)
}

/// Adds size v v'.
fn add_square(matrix: &mut [Vec<f64>], v: &[f64], size: f64) {
    for (row, a) in matrix.iter_mut().zip(v) {
        for (cell, b) in row.iter_mut().zip(v) {
            *cell += size * a * b;
        }
    }
}

/// The failures of one group, by the cause and by the others.
fn failures(group: usize, sample: &CauseSample<'_>) -> Result<Vec<Failed>, Error> {
    let mut own = sample.failed.iter().peekable();
    let mut out = Vec::new();
    for row in sample.lives.rows().iter().filter(|row| row.failed > 0) {
        let by_cause = own.next_if(|(distance, _)| *distance == row.distance);
        let by_cause = by_cause.map_or(0, |(_, failed)| *failed);
        let Some(others) = row.failed.checked_sub(by_cause) else {
            return Err(not_in_lives());
        };
        out.push(Failed {
            distance: row.distance,
            group,
            own: by_cause as f64,
            others: others as f64,
        });
    }
    match own.next() {
        Some(_) => Err(not_in_lives()),
        None => Ok(out),
    }
}

fn not_in_lives() -> Error {
    Error::Input {
        name: "failed",
        requirement: "failures by a cause must be among the failures of the lives",
    }
}
