//! What the catalog knows of tests, laid out by the scenario's own numbers of causes and tests.
//!
//! Readings are drawn from the same matrix that the tool starts from, so that later estimates can be held against it.

use crate::domain::catalog::{self, Catalog, HeadOff, Kind, Scope};
use crate::domain::problem::Result;
use crate::domain::unit::Unit;
use crate::synth::draw::Draw;
use crate::synth::scenario::{Habit, Scenario};

/// Tests, and what they show for each cause of a scenario.
#[derive(Debug, Clone)]
pub struct Knowledge {
    tests: Vec<Test>,
    /// Test numbers in the order of each practice.
    orders: Vec<(Habit, Vec<usize>)>,
    /// P(abnormal | cause), by cause, then by test.
    p_abnormal: Vec<Vec<f64>>,
    head_off: Vec<bool>,
    /// Leak path ids and, by cause, their weights; the last row is the background of a sound engine.
    paths: Vec<String>,
    path_weights: Vec<Vec<f64>>,
}

#[derive(Debug, Clone)]
struct Test {
    id: String,
    minutes: [f64; 2],
    whole_engine: bool,
    unit: Option<Unit>,
}

impl Test {
    fn of(entry: &catalog::Test) -> Self {
        Self {
            id: entry.id.clone(),
            minutes: [entry.minutes_easy, entry.minutes_hard],
            whole_engine: entry.scope == Scope::Engine,
            unit: entry.canonical_unit(),
        }
    }
}

/// Chances of follow-up steps, which the catalog's matrix leaves out: (cause, test, chance).
const FOLLOW_UPS: [(&str, &str, f64); 2] = [
    ("injector_electrical", "injector_resistance", 0.75),
    ("ignition_coil", "coil_resistance", 0.3),
];
const FOLLOW_UP_ELSEWHERE: f64 = 0.02;

/// P(abnormal | cause): from the matrix, or from the follow-ups.
fn chance(catalog: &Catalog, cause: &str, test: &str) -> f64 {
    catalog.chance_abnormal(cause, test).map_or_else(
        || {
            let own = FOLLOW_UPS
                .iter()
                .find(|(c, t, _)| *c == cause && *t == test);
            own.map_or(FOLLOW_UP_ELSEWHERE, |(_, _, p)| *p)
        },
        |c| c.probability(),
    )
}

fn rows<T>(scenario: &Scenario, row: impl Fn(&str) -> T) -> Vec<T> {
    scenario.causes.iter().map(|c| row(&c.id)).collect()
}

impl Knowledge {
    /// Lays the embedded catalog out for a scenario.
    ///
    /// # Errors
    /// When the scenario names a cause, test, repair or failure mode that the catalog does not have.
    pub fn from_catalog(scenario: &Scenario) -> Result<Self> {
        let catalog = Catalog::embedded()?;
        let mut ids: Vec<String> = Vec::new();
        let mut orders = Vec::new();
        for practice in &scenario.practices {
            let mut order = Vec::new();
            for id in &practice.tests {
                catalog.expect(Kind::Test, id, "practice.tests")?;
                let known = ids.iter().position(|t| t == id);
                order.push(known.unwrap_or(ids.len()));
                if known.is_none() {
                    ids.push(id.clone());
                }
            }
            orders.push((practice.habit, order));
        }
        for cause in &scenario.causes {
            catalog.expect(Kind::Cause, &cause.id, "cause.id")?;
            for mode in &cause.modes {
                catalog.expect(Kind::FailureMode, mode, "cause.modes")?;
            }
            for repair in &cause.repairs {
                catalog.expect(Kind::Repair, &repair.id, "cause.repair.id")?;
            }
        }
        let mut path_weights = rows(scenario, |cause| {
            catalog
                .leak_path_shares(cause)
                .map(<[f64]>::to_vec)
                .unwrap_or_default()
        });
        // A sound engine hisses as one does whose fault has nothing to do with sealing.
        path_weights.push(
            catalog
                .leak_path_shares("spark_plug")
                .map(<[f64]>::to_vec)
                .unwrap_or_default(),
        );
        Ok(Self {
            p_abnormal: rows(scenario, |cause| {
                ids.iter().map(|t| chance(&catalog, cause, t)).collect()
            }),
            head_off: rows(scenario, |cause| {
                catalog
                    .cause(cause)
                    .is_some_and(|c| c.head_off == HeadOff::Yes)
            }),
            paths: catalog.leak_paths().iter().map(|w| w.id.clone()).collect(),
            path_weights,
            tests: ids
                .iter()
                .filter_map(|id| catalog.test(id))
                .map(Test::of)
                .collect(),
            orders,
        })
    }

    /// Id of a test.
    pub fn test_id(&self, test: usize) -> &str {
        self.tests.get(test).map_or("", |t| &t.id)
    }

    /// Unit of its readings, where it has any.
    pub fn unit(&self, test: usize) -> Option<Unit> {
        self.tests.get(test).and_then(|t| t.unit)
    }

    /// All tests by number.
    pub fn test_ids(&self) -> impl Iterator<Item = &str> {
        self.tests.iter().map(|t| t.id.as_str())
    }

    /// Leak path ids.
    pub fn path_ids(&self) -> impl Iterator<Item = &str> {
        self.paths.iter().map(String::as_str)
    }

    /// Order of tests where a habit is practised.
    pub fn order(&self, habit: Option<Habit>) -> &[usize] {
        self.orders
            .iter()
            .find(|(h, _)| Some(*h) == habit)
            .map_or(&[], |(_, o)| o)
    }

    /// P(abnormal | cause), 0 to 1.
    pub fn p_abnormal(&self, cause: usize, test: usize) -> f64 {
        self.p_abnormal
            .get(cause)
            .and_then(|row| row.get(test))
            .copied()
            .unwrap_or(0.0)
    }

    /// Bench minutes at an access between 0 (easy) and 1 (hard).
    pub fn minutes(&self, test: usize, access: f64) -> f64 {
        self.tests.get(test).map_or(0.0, |t| {
            t.minutes[0] + (t.minutes[1] - t.minutes[0]) * access
        })
    }

    /// Whether the repair of a cause takes the cylinder head off.
    pub fn head_off(&self, cause: usize) -> bool {
        self.head_off.get(cause).copied().unwrap_or(false)
    }

    /// Whether a test is made on the engine and not on a cylinder.
    pub fn whole_engine(&self, test: usize) -> bool {
        self.tests.get(test).is_some_and(|t| t.whole_engine)
    }

    /// Whether the test is the reading of codes.
    pub fn is_scan(&self, test: usize) -> bool {
        self.test_id(test) == "scan_codes_data"
    }

    /// Whether a leak path can be heard in the test.
    pub fn hears_leak(&self, test: usize) -> bool {
        self.test_id(test) == "cylinder_leakage"
    }

    /// Whether an abnormal result is enough for a shop to stop testing: usual for the cause, and not merely "a weak cylinder".
    pub fn points_at(&self, test: usize, cause: usize) -> bool {
        const SEALING_ONLY: [&str; 3] = [
            "relative_compression",
            "cranking_compression",
            "running_compression",
        ];
        self.p_abnormal(cause, test) >= 0.6 && !SEALING_ONLY.contains(&self.test_id(test))
    }

    /// Draws the path on which a leak is heard.
    pub fn leak_path(&self, cause: Option<usize>, draw: &mut Draw) -> Option<String> {
        let row = cause
            .and_then(|c| self.path_weights.get(c))
            .or(self.path_weights.last())?;
        self.paths.get(draw.weighted(row)).cloned()
    }
}
