//! Readings of the tests: plausible figures in canonical units, abnormal as often as the catalog's matrix says.
//!
//! A fault is frank or marginal. A frank one shows in a test more often than the matrix says and a marginal one less, so
//! that tests of one block agree with each other as they do in life while each keeps its share over all cases.

use crate::synth::draw::Draw;
use crate::synth::knowledge::Knowledge;
use crate::synth::record::{Failure, Reading, TestResult};
use crate::synth::scenario::Family;

/// Share of faults that are frank.
const FRANK: f64 = 0.7;
/// How far frank and marginal are apart, as a share of what keeps both probabilities within 0..1.
const APART: f64 = 0.6;
/// Chance that a healthy cylinder reads as abnormal.
const FALSE_ALARM: f64 = 0.01;

/// The engine in the bay during one case.
#[derive(Debug)]
pub struct Bay<'a> {
    knowledge: &'a Knowledge,
    family: &'a Family,
    failure: Option<Failure>,
    suspect: u8,
    frank: bool,
    /// Level of this engine's compression today: gauge, altitude, wear.
    compression_kpa: f64,
    /// Access to the suspect's bank, 0 easy to 1 hard.
    pub access: f64,
}

impl<'a> Bay<'a> {
    /// Brings an engine in.
    pub fn new(
        knowledge: &'a Knowledge,
        draw: &mut Draw,
        family: &'a Family,
        failure: Option<Failure>,
        suspect: u8,
    ) -> Self {
        let bank = family
            .banks
            .iter()
            .position(|b| b.contains(&suspect))
            .unwrap_or(0);
        Self {
            knowledge,
            family,
            failure,
            suspect,
            frank: draw.chance(FRANK),
            compression_kpa: draw.lognormal(family.compression_kpa, 0.05),
            access: family.access.get(bank).copied().unwrap_or(0.5),
        }
    }

    /// Chance that `test` is abnormal on the suspect, given how frank the fault is.
    fn p_abnormal(&self, test: usize) -> f64 {
        let Some(failure) = self.failure else {
            return FALSE_ALARM * 2.0;
        };
        let p = self.knowledge.p_abnormal(failure.cause, test);
        let room = APART * (p / FRANK).min((1.0 - p) / (1.0 - FRANK));
        if self.frank {
            p + (1.0 - FRANK) * room
        } else {
            p - FRANK * room
        }
    }
}

/// How a test's figures look: healthy median and spread, and the factors an abnormal one is multiplied with.
struct Figure {
    healthy: f64,
    /// Standard deviation of the logarithm among healthy cylinders of one engine.
    spread: f64,
    /// Range of factors of an abnormal reading.
    abnormal: [f64; 2],
    /// Decimals written down.
    decimals: i32,
    /// All cylinders are read, or the suspect and its neighbour in number only.
    all: bool,
}

fn figure(id: &str, bay: &Bay) -> Option<Figure> {
    let f = |healthy, spread, abnormal, decimals, all| {
        Some(Figure {
            healthy,
            spread,
            abnormal,
            decimals,
            all,
        })
    };
    match id {
        "cranking_compression" => f(bay.compression_kpa, 0.025, [0.12, 0.72], 0, true),
        "running_compression" => f(bay.compression_kpa * 0.55, 0.04, [0.3, 0.75], 0, false),
        "relative_compression" => f(100.0, 0.02, [0.45, 0.84], 0, true),
        "cylinder_leakage" => f(7.0, 0.2, [3.4, 5.8], 0, false),
        "injector_balance" => f(40.0, 0.03, [0.45, 0.8], 0, true),
        "injector_resistance" => f(12.4, 0.015, [1.2, 40.0], 1, true),
        "coil_resistance" => f(0.75, 0.03, [1.5, 30.0], 2, true),
        "secondary_pattern" => f(10.5, 0.06, [1.5, 2.6], 1, true),
        "plug_inspect" => f(0.85, 0.05, [1.45, 2.1], 2, true),
        "valve_lash_check" => f(0.24, 0.06, [0.05, 0.6], 2, true),
        _ => None,
    }
}

/// Does one test on the engine in the bay.
pub fn take(bay: &Bay, draw: &mut Draw, test: usize) -> Vec<Reading> {
    let abnormal = draw.chance(bay.p_abnormal(test));
    let leak_path = |draw: &mut Draw| {
        let cause = bay.failure.map(|f| f.cause);
        bay.knowledge
            .hears_leak(test)
            .then(|| bay.knowledge.leak_path(cause, draw))
            .flatten()
    };
    let Some(figure) = figure(bay.knowledge.test_id(test), bay) else {
        let inconclusive = draw.chance(0.03);
        let result = match (inconclusive, abnormal) {
            (true, _) => TestResult::Inconclusive,
            (_, true) => TestResult::Abnormal,
            _ => TestResult::Normal,
        };
        let cylinder = if bay.knowledge.whole_engine(test) {
            0
        } else {
            bay.suspect
        };
        return vec![Reading {
            cylinder,
            value: None,
            result,
            leak_path: None,
        }];
    };
    let neighbour = if bay.suspect < bay.family.cylinders {
        bay.suspect + 1
    } else {
        bay.suspect.saturating_sub(1)
    };
    (1..=bay.family.cylinders)
        .filter(|c| figure.all || *c == bay.suspect || *c == neighbour)
        .map(|cylinder| {
            let bad = if cylinder == bay.suspect {
                abnormal
            } else {
                draw.chance(FALSE_ALARM)
            };
            let factor = if bad {
                draw.between(figure.abnormal[0], figure.abnormal[1])
            } else {
                1.0
            };
            let healthy = draw.lognormal(figure.healthy, figure.spread);
            let scale = 10f64.powi(figure.decimals);
            Reading {
                cylinder,
                value: Some((healthy * factor * scale).round() / scale),
                result: if bad {
                    TestResult::Abnormal
                } else {
                    TestResult::Normal
                },
                leak_path: if bad { leak_path(draw) } else { None },
            }
        })
        .collect()
}
