//! The catalog itself: every entry by id, every name people use for it, and the starting chances.

use std::collections::BTreeMap;
use std::path::Path;

use super::chance::Chance;
use super::check;
use super::entry::{Block, Cause, FailureMode, Repair, SetUp, Severity, Test, Word};
use super::name::Names;
use crate::domain::problem::Result;
use crate::domain::toml_file;

/// The catalog that is compiled in.
const EMBEDDED: &str = include_str!("../catalog.toml");

/// A checked catalog: every id it mentions exists, its shares sum to 100, its names mean one thing each.
#[derive(Debug, Clone, PartialEq)]
pub struct Catalog {
    pub(super) mark: String,
    pub(super) cause_prior_weight: f64,
    pub(super) severity: Severity,
    pub(super) verify_minutes: f64,
    pub(super) systems: Vec<Word>,
    pub(super) outcomes: Vec<Word>,
    pub(super) payers: Vec<Word>,
    pub(super) results: Vec<Word>,
    pub(super) leak_paths: Vec<Word>,
    pub(super) failure_modes: Vec<FailureMode>,
    pub(super) causes: Vec<Cause>,
    pub(super) set_ups: Vec<SetUp>,
    pub(super) blocks: Vec<Block>,
    pub(super) tests: Vec<Test>,
    pub(super) repairs: Vec<Repair>,
    /// Index of the test of each matrix column.
    pub(super) matrix_tests: Vec<usize>,
    /// By cause, then by matrix column.
    pub(super) matrix: Vec<Vec<Chance>>,
    pub(super) leak_path_weight: f64,
    /// By cause, then by leak path; sums to 1.
    pub(super) leak_path_shares: Vec<Vec<f64>>,
    /// By cause.
    pub(super) wet_recovery: Vec<Chance>,
    /// By follow-up test, then by cause.
    pub(super) follow_ups: BTreeMap<String, Vec<Chance>>,
    pub(super) names: Names,
}

impl Catalog {
    /// The catalog that is compiled in.
    ///
    /// # Errors
    /// None that a released build can have: the embedded text is checked by the tests.
    pub fn embedded() -> Result<Self> {
        Self::from_toml(EMBEDDED, "catalog.toml (built in)")
    }

    /// The text of the catalog that is compiled in, to start one's own from.
    pub fn embedded_text() -> &'static str {
        EMBEDDED
    }

    /// Reads a catalog of one's own, which replaces the compiled-in one.
    ///
    /// # Errors
    /// As `from_toml`, and when the file cannot be read.
    pub fn load(path: impl AsRef<Path>) -> Result<Self> {
        let path = path.as_ref();
        Self::from_toml(&toml_file::read(path, "read the catalog")?, path)
    }

    /// Reads a catalog from its text; `file` is named in messages.
    ///
    /// # Errors
    /// Syntax, unknown keys, and whatever in it contradicts itself, with file, line, key and value.
    pub fn from_toml(text: &str, file: impl AsRef<Path>) -> Result<Self> {
        check::catalog(text, file.as_ref())
    }

    /// What must stand beside every number that still rests on this catalog.
    pub fn mark(&self) -> &str {
        &self.mark
    }

    /// As how many cases of one's own the starting shares of all causes together weigh.
    pub fn cause_prior_weight(&self) -> f64 {
        self.cause_prior_weight
    }

    /// How much the tests of one case agree beyond chance.
    pub fn severity(&self) -> Severity {
        self.severity
    }

    /// Minutes to find out that a repair was the wrong one.
    pub fn verify_minutes(&self) -> f64 {
        self.verify_minutes
    }

    /// All causes, in file order.
    pub fn causes(&self) -> &[Cause] {
        &self.causes
    }

    /// The cause of that id.
    pub fn cause(&self, id: &str) -> Option<&Cause> {
        self.causes.iter().find(|c| c.id == id)
    }

    /// All tests, in file order; those with a code first make the matrix.
    pub fn tests(&self) -> &[Test] {
        &self.tests
    }

    /// The tests of the matrix, in the order of its columns.
    pub fn matrix_tests(&self) -> impl Iterator<Item = &Test> {
        self.matrix_tests.iter().filter_map(|i| self.tests.get(*i))
    }

    /// The test of that id.
    pub fn test(&self, id: &str) -> Option<&Test> {
        self.tests.iter().find(|t| t.id == id)
    }

    /// All repairs, in file order.
    pub fn repairs(&self) -> &[Repair] {
        &self.repairs
    }

    /// The repair of that id.
    pub fn repair(&self, id: &str) -> Option<&Repair> {
        self.repairs.iter().find(|r| r.id == id)
    }

    /// The repairs that cure a cause, the usual one first.
    pub fn repairs_for(&self, cause: &str) -> impl Iterator<Item = &Repair> {
        self.repairs
            .iter()
            .filter(move |r| r.cures.iter().any(|c| c == cause))
    }

    /// All failure modes.
    pub fn failure_modes(&self) -> &[FailureMode] {
        &self.failure_modes
    }

    /// All outcomes of a case, with what people call them.
    pub fn outcomes(&self) -> &[Word] {
        &self.outcomes
    }

    /// All payers.
    pub fn payers(&self) -> &[Word] {
        &self.payers
    }

    /// All results of a test step.
    pub fn results(&self) -> &[Word] {
        &self.results
    }

    /// All leak paths, in the order of `leak_path_shares`.
    pub fn leak_paths(&self) -> &[Word] {
        &self.leak_paths
    }

    /// All systems.
    pub fn systems(&self) -> &[Word] {
        &self.systems
    }

    /// All set-ups.
    pub fn set_ups(&self) -> &[SetUp] {
        &self.set_ups
    }

    /// All blocks of tests.
    pub fn blocks(&self) -> &[Block] {
        &self.blocks
    }

    /// The starting chance that a matrix test is abnormal when this is the cause.
    pub fn chance_abnormal(&self, cause: &str, test: &str) -> Option<Chance> {
        let column = self.matrix_tests().position(|t| t.id == test)?;
        self.matrix
            .get(self.cause_index(cause)?)?
            .get(column)
            .copied()
    }

    /// The causes a test is looked at for, in file order: those it shows at least half the time by the matrix, or those its entry
    /// names; none where neither says anything.
    pub fn shown_by(&self, test: &Test) -> Vec<&str> {
        let shown = |cause: &&Cause| match self.chance_abnormal(&cause.id, &test.id) {
            Some(chance) => chance.percent >= 50.0,
            None => test.shows.contains(&cause.id),
        };
        self.causes
            .iter()
            .filter(shown)
            .map(|c| c.id.as_str())
            .collect()
    }

    /// The causes whose leak often opens into a neighbouring cylinder (at least one time in twenty), so that a case of them says
    /// nothing of the neighbours.
    pub fn reaching_neighbours(&self) -> Vec<&str> {
        let adjacent = self.leak_paths.iter().position(|p| p.id == "adjacent");
        let share = |cause: &Cause| {
            let shares = self.leak_path_shares(&cause.id)?;
            shares.get(adjacent?).copied()
        };
        self.causes
            .iter()
            .filter(|c| share(c).is_some_and(|s| s >= 0.05))
            .map(|c| c.id.as_str())
            .collect()
    }

    /// Starting probabilities of the leak paths, given an abnormal leakage test and this cause; they sum to 1 and
    /// none is 0. Order as `leak_paths`.
    pub fn leak_path_shares(&self, cause: &str) -> Option<&[f64]> {
        let row = self.leak_path_shares.get(self.cause_index(cause)?)?;
        Some(row)
    }

    /// As how many abnormal leakage tests of one's own a row of leak-path shares weighs.
    pub fn leak_path_weight(&self) -> f64 {
        self.leak_path_weight
    }

    /// The starting chance that a low dry compression reading recovers with oil in the bore when this is the cause.
    pub fn wet_recovery(&self, cause: &str) -> Option<Chance> {
        self.wet_recovery.get(self.cause_index(cause)?).copied()
    }

    /// The starting chance that a follow-up step outside the matrix is abnormal when this is the cause.
    pub fn follow_up(&self, cause: &str, test: &str) -> Option<Chance> {
        self.follow_ups
            .get(test)?
            .get(self.cause_index(cause)?)
            .copied()
    }

    fn cause_index(&self, id: &str) -> Option<usize> {
        self.causes.iter().position(|c| c.id == id)
    }
}

#[cfg(test)]
mod tests {
    use super::super::entry::HeadOff;
    use super::*;

    fn catalog() -> Catalog {
        Catalog::embedded().expect("the embedded catalog is sound")
    }

    #[test]
    fn embedded_holds_the_starting_assumptions() {
        // All figures: common practice, no source.
        let c = catalog();
        assert_eq!(c.causes().len(), 20);
        assert_eq!(c.matrix_tests().count(), 14);
        assert_eq!(c.tests().len(), 23);
        assert_eq!(c.repairs().len(), 24);
        assert_eq!(c.cause_prior_weight(), 10.0);
        let cell = |cause, test| {
            let chance = c.chance_abnormal(cause, test).expect("in the matrix");
            (chance.percent, chance.weight)
        };
        assert_eq!(cell("ignition_coil", "coil_swap"), (92.0, 10.0));
        assert_eq!(cell("spark_plug", "valve_lash_check"), (5.0, 4.0));
        assert_eq!(cell("piston_damage", "scan_codes_data"), (3.0, 4.0));
        assert_eq!(cell("exhaust_valve_leak", "cylinder_leakage"), (93.0, 10.0));
        assert_eq!(cell("head_gasket", "combustion_gas"), (75.0, 4.0));
        assert_eq!(cell("valve_spring", "relative_compression"), (35.0, 2.0));
        assert_eq!(c.chance_abnormal("spark_plug", "wet_compression"), None);
        let wet = |cause| c.wet_recovery(cause).map(|w| (w.percent, w.weight));
        assert_eq!(wet("rings_or_bore"), Some((80.0, 4.0)));
        assert_eq!(wet("spark_plug"), Some((20.0, 2.0)));
        let minutes = c
            .test("cranking_compression")
            .map(|t| (t.minutes_easy, t.minutes_hard));
        assert_eq!(minutes, Some((45.0, 120.0)));
    }

    #[test]
    fn what_a_test_is_looked_at_for() {
        // Read off the matrix and the leak paths by hand; common practice, no source.
        let c = catalog();
        let shown = |id: &str| c.test(id).map(|t| c.shown_by(t)).unwrap_or_default();
        let sealing = [
            "exhaust_valve_leak",
            "intake_valve_leak",
            "head_gasket",
            "head_crack",
            "rings_or_bore",
            "piston_damage",
        ];
        assert_eq!(shown("cranking_compression"), sealing);
        assert_eq!(shown("coil_resistance"), ["ignition_coil"]);
        assert!(shown("power_balance").is_empty());
        assert_eq!(c.reaching_neighbours(), ["head_gasket", "head_crack"]);
    }

    #[test]
    fn leak_paths_are_probabilities() {
        let c = catalog();
        for cause in c.causes() {
            let shares = c.leak_path_shares(&cause.id).expect("every cause");
            assert_eq!(shares.len(), 6);
            assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
            assert!(shares.iter().all(|p| *p > 0.0));
        }
        // 3 90 5 1 1 0 with the zero raised to 0.5: 90 / 100.5.
        let exhaust = c.leak_path_shares("exhaust_valve_leak").expect("a cause");
        assert!((exhaust[1] - 90.0 / 100.5).abs() < 1e-12);
        let background = c.leak_path_shares("spark_plug").expect("a cause");
        assert!((background[2] - 0.74).abs() < 1e-12);
    }

    #[test]
    fn head_off_repairs_are_those_of_the_trade() {
        let c = catalog();
        let off = c.repairs().iter().filter(|r| r.head_off == HeadOff::Yes);
        let ids: Vec<&str> = off.map(|r| r.id.as_str()).collect();
        let expected = [
            "head_gasket_replace",
            "head_repair",
            "head_replace",
            "piston_ring_overhaul",
            "short_block_replace",
        ];
        assert_eq!(ids, expected);
        let usual = |cause| c.repairs_for(cause).next().map(|r| r.id.as_str());
        assert_eq!(usual("exhaust_valve_leak"), Some("head_repair"));
        assert_eq!(usual("head_crack"), Some("head_replace"));
    }

    #[test]
    fn every_hazard_stands_with_some_test() {
        let c = catalog();
        let named: Vec<&String> = c.tests().iter().flat_map(|t| &t.hazards).collect();
        for hazard in crate::domain::caution::HAZARDS {
            let id = hazard.id.to_owned();
            assert!(hazard.always || named.contains(&&id), "{id}");
        }
    }
}
