//! The shape of a catalog file, before any check of its contents.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use super::chance::Weights;
use super::entry::{Block, FaultySide, HeadOff, Invasive, Scope, Severity, Word};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CatalogForm {
    pub mark: String,
    pub cause_prior_weight: f64,
    #[serde(default)]
    pub severity: Severity,
    #[serde(default = "verify_minutes")]
    pub verify_minutes: f64,
    pub outcome: Vec<Spanned<Word>>,
    pub payer: Vec<Spanned<Word>>,
    pub result: Vec<Spanned<Word>>,
    pub path: Vec<Spanned<Word>>,
    pub failure_mode: BTreeMap<String, BTreeMap<String, Spanned<Vec<String>>>>,
    pub system: BTreeMap<String, Spanned<String>>,
    pub cause: Vec<Spanned<CauseForm>>,
    #[serde(default)]
    pub set_up: Vec<Spanned<SetUpForm>>,
    #[serde(default)]
    pub block: Vec<Spanned<Block>>,
    pub test: Vec<Spanned<TestForm>>,
    pub matrix: MatrixForm,
    pub leak_path: LeakPathForm,
    pub wet_step: WetStepForm,
    pub follow_up: Option<FollowUpForm>,
    pub repair: Vec<Spanned<RepairForm>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CauseForm {
    pub id: String,
    pub title: String,
    pub system: String,
    #[serde(default)]
    pub modes: Vec<String>,
    pub share: f64,
    pub head_off: HeadOff,
    pub note: Option<String>,
    #[serde(default)]
    pub aliases: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SetUpForm {
    pub id: String,
    pub title: String,
    pub minutes: [f64; 2],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct TestForm {
    pub id: String,
    pub code: Option<String>,
    pub title: String,
    pub scope: Scope,
    #[serde(default)]
    pub units: Vec<String>,
    #[serde(default)]
    pub faulty: FaultySide,
    #[serde(default)]
    pub shows: Vec<String>,
    pub minutes: [f64; 2],
    #[serde(default)]
    pub set_ups: Vec<String>,
    pub block: Option<String>,
    #[serde(default)]
    pub proof: bool,
    pub invasive: Vec<Invasive>,
    #[serde(default)]
    pub hazards: Vec<String>,
    pub separates: String,
    pub abnormal: String,
    pub criterion: String,
    pub needs: String,
    #[serde(default)]
    pub aliases: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct MatrixForm {
    pub weight: Weights,
    pub columns: Spanned<String>,
    pub rows: BTreeMap<String, Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LeakPathForm {
    pub weight: f64,
    pub floor_percent: f64,
    pub columns: Spanned<String>,
    pub rows: BTreeMap<String, Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WetStepForm {
    pub weight: Weights,
    pub rows: BTreeMap<String, Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RepairForm {
    pub id: String,
    pub title: String,
    #[serde(rename = "for")]
    pub cures: Vec<String>,
    pub hours: [f64; 2],
    #[serde(default)]
    pub parts_minutes: f64,
    pub head_off: HeadOff,
    pub note: Option<String>,
    #[serde(default)]
    pub aliases: Vec<String>,
}

/// Rows of each follow-up step, beside the weights of all.
#[derive(Deserialize)]
pub(super) struct FollowUpForm {
    pub weight: Weights,
    #[serde(flatten)]
    pub tests: BTreeMap<String, BTreeMap<String, String>>,
}

/// Catalogs from before the key existed mean this.
fn verify_minutes() -> f64 {
    20.0
}
