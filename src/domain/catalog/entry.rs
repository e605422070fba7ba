//! The entries of the catalog, as everybody uses them: checked, so that nothing about them can fail any more.

use serde::{Deserialize, Serialize};

use crate::domain::unit::Unit;

/// A word of a record: an outcome, a payer, a result, a leak path, a system.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Word {
    /// Id as stored.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Other spellings.
    #[serde(default)]
    pub aliases: Vec<String>,
}

/// How a component fails.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FailureMode {
    /// Id as stored.
    pub id: String,
    /// The id in plain words.
    pub title: String,
    /// "electrical", "fluid" or "mechanical".
    pub kind: String,
    /// Other spellings.
    pub aliases: Vec<String>,
}

/// Whether a repair needs the cylinder head off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeadOff {
    /// The head stays on.
    No,
    /// The head stays on except on some layouts.
    UsuallyNo,
    /// The head comes off.
    Yes,
    /// The question does not arise (the engine is replaced, nothing is repaired).
    NotApplicable,
}

/// A cause of a single-cylinder misfire.
#[derive(Debug, Clone, PartialEq)]
pub struct Cause {
    /// Id as stored.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Id of the system it belongs to.
    pub system: String,
    /// Ids of typical failure modes.
    pub modes: Vec<String>,
    /// Starting share among confirmed single-cylinder misfires, in percent; never 0.
    pub share_percent: f64,
    /// Whether its repair needs the head off.
    pub head_off: HeadOff,
    /// What a title cannot say.
    pub note: Option<String>,
    /// Other spellings.
    pub aliases: Vec<String>,
}

/// What one result of a test is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scope {
    /// The whole engine.
    Engine,
    /// One cylinder.
    Cylinder,
    /// One intake runner.
    Runner,
    /// One valve.
    Valve,
}

/// What a test does to the vehicle besides testing it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Invasive {
    /// Nothing.
    None,
    /// Covers or manifolds come off.
    Disassembly,
    /// It risks damage: a seized plug, a broken connector.
    Risk,
    /// It changes the evidence.
    Evidence,
}

/// On which side of the healthy readings a fault reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FaultySide {
    /// Below.
    Low,
    /// Above.
    High,
    /// On either side: unlike the others.
    #[default]
    Either,
}

/// How hard an engine is to reach.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Access {
    /// Everything on top.
    Easy,
    /// Under a plenum, against the bulkhead, under the floor.
    Hard,
}

/// A preparation that several tests share and that is paid once.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUp {
    /// Id.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Minutes with easy access.
    pub minutes_easy: f64,
    /// Minutes with hard access.
    pub minutes_hard: f64,
}

impl SetUp {
    /// Minutes for an access.
    pub fn minutes(&self, access: Access) -> f64 {
        match access {
            Access::Easy => self.minutes_easy,
            Access::Hard => self.minutes_hard,
        }
    }
}

/// How much the tests of one case agree beyond chance, told by two severities of every fault (`stats::latent_class`).
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Severity {
    /// Share of faults that are frank, strictly between 0 and 1.
    pub frank_share: f64,
    /// How far the chances of both severities lie apart, from 0 to 1 of the most that their average allows.
    pub apart: f64,
}

impl Default for Severity {
    /// What the built-in catalog says (common practice).
    fn default() -> Self {
        Self {
            frank_share: 0.7,
            apart: 0.6,
        }
    }
}

/// Tests that see the same thing, and so are not independent given the cause.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Block {
    /// Id.
    pub id: String,
    /// Title for people.
    pub title: String,
}

/// A test.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// Id as stored.
    pub id: String,
    /// Two letters, its column of the matrix; `None` for a follow-up step outside the matrix.
    pub code: Option<String>,
    /// Title for people.
    pub title: String,
    /// What one result is about.
    pub scope: Scope,
    /// Canonical units a reading may have, the usual one first; empty for classes and code lists.
    pub units: Vec<Unit>,
    /// On which side a fault reads.
    pub faulty: FaultySide,
    /// Causes a test outside the matrix is looked at for.
    pub shows: Vec<String>,
    /// Bench minutes with easy access, set-ups included.
    pub minutes_easy: f64,
    /// Bench minutes with hard access, set-ups included.
    pub minutes_hard: f64,
    /// Ids of the set-ups it needs.
    pub set_ups: Vec<String>,
    /// Id of its block.
    pub block: Option<String>,
    /// Whether an abnormal result is the proof that a repair with the head off asks for.
    pub proof: bool,
    /// What it does to the vehicle besides.
    pub invasive: Vec<Invasive>,
    /// Ids of its hazards (`domain::caution`).
    pub hazards: Vec<String>,
    /// What it tells apart.
    pub separates: String,
    /// What "abnormal" means.
    pub abnormal: String,
    /// The usual criterion, which the vehicle maker's value overrides.
    pub criterion: String,
    /// What it needs first.
    pub needs: String,
    /// Other spellings.
    pub aliases: Vec<String>,
}

impl Test {
    /// The unit in which its readings are stored, if it has readings.
    pub fn canonical_unit(&self) -> Option<Unit> {
        self.units.first().copied()
    }

    /// Bench minutes for an access, set-ups included.
    pub fn minutes(&self, access: Access) -> f64 {
        match access {
            Access::Easy => self.minutes_easy,
            Access::Hard => self.minutes_hard,
        }
    }
}

/// A repair.
#[derive(Debug, Clone, PartialEq)]
pub struct Repair {
    /// Id as stored.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Ids of the causes it cures.
    pub cures: Vec<String>,
    /// Least typical labour hours.
    pub hours_from: f64,
    /// Most typical labour hours, without machine-shop work.
    pub hours_to: f64,
    /// Price of its parts in minutes of labour.
    pub parts_minutes: f64,
    /// Whether it needs the head off.
    pub head_off: HeadOff,
    /// What a title cannot say.
    pub note: Option<String>,
    /// Other spellings.
    pub aliases: Vec<String>,
}

impl Repair {
    /// Minutes of labour and of the price of parts; `access` from 0 (easy, the least hours) to 1 (hard, the most), on the
    /// scale of ratios between them.
    pub fn minutes(&self, access: f64) -> f64 {
        let (from, to) = (self.hours_from.max(0.1), self.hours_to.max(0.1));
        60.0 * from * (to / from).powf(access) + self.parts_minutes
    }
}
