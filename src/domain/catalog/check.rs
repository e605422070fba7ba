//! From the shape of a catalog file to a catalog that holds together; every fault names file, line, key and value.

use std::collections::BTreeMap;
use std::path::Path;

use toml::Spanned;

use super::contents::Catalog;
use super::entry::{Block, FailureMode, Word};
use super::form::CatalogForm;
use super::name::{Kind, Names};
use super::{check_entries, check_rows};
use crate::domain::outcome::Outcome;
use crate::domain::problem::{Problem, Result};
use crate::domain::toml_file;

/// Ids that tallies reason about, so that a catalog may rename what people see but not these.
const PAYERS: [&str; 3] = ["customer", "warranty", "internal"];
const RESULTS: [&str; 3] = ["normal", "abnormal", "inconclusive"];

/// Where a fault can be: the file and its text, to find lines in.
pub(super) struct Source<'a> {
    pub text: &'a str,
    pub file: &'a Path,
}

impl Source<'_> {
    /// A fault without a line.
    pub fn fault(&self, key: &str, value: impl ToString, what: impl Into<String>) -> Problem {
        Problem::data(what)
            .file(self.file)
            .field(key)
            .value(value.to_string())
            .remedy("correct the catalog; the one built in shows every key")
    }

    /// A fault at the line of an entry.
    pub fn fault_at<T>(
        &self,
        at: &Spanned<T>,
        key: &str,
        value: impl ToString,
        what: impl Into<String>,
    ) -> Problem {
        self.fault(key, value, what)
            .line(toml_file::line_of(self.text, &at.span()))
    }
}

/// Reads and checks a catalog.
pub(super) fn catalog(text: &str, file: &Path) -> Result<Catalog> {
    let form: CatalogForm = toml_file::from_text(text, file)?;
    let source = Source { text, file };
    let s = &source;
    let names = &mut Names::default();
    head(s, &form)?;
    let outcomes = words(s, names, Kind::Outcome, form.outcome)?;
    fixed_ids(s, "outcome", &outcomes, &Outcome::ALL.map(Outcome::id))?;
    let payers = words(s, names, Kind::Payer, form.payer)?;
    fixed_ids(s, "payer", &payers, &PAYERS)?;
    let results = words(s, names, Kind::TestResult, form.result)?;
    fixed_ids(s, "result", &results, &RESULTS)?;
    let leak_paths = words(s, names, Kind::LeakPath, form.path)?;
    let failure_modes = failure_modes(s, names, form.failure_mode)?;
    let systems = systems(s, names, form.system)?;
    let causes = check_entries::causes(s, names, form.cause)?;
    let set_ups = check_entries::set_ups(s, &form.set_up)?;
    let blocks: Vec<Block> = form.block.into_iter().map(Spanned::into_inner).collect();
    let tests = check_entries::tests(s, names, &set_ups, &blocks, form.test)?;
    let repairs = check_entries::repairs(s, names, form.repair)?;
    let columns = check_rows::columns(s, &form.matrix.columns, &tests)?;
    let catalog = Catalog {
        matrix: check_rows::matrix(s, &form.matrix, columns.len(), &causes)?,
        matrix_tests: columns,
        leak_path_weight: form.leak_path.weight,
        leak_path_shares: check_rows::leak_paths(s, &form.leak_path, &leak_paths, &causes)?,
        wet_recovery: check_rows::wet_step(s, &form.wet_step, &causes)?,
        follow_ups: check_rows::follow_ups(s, form.follow_up.as_ref(), &tests, &causes)?,
        severity: form.severity,
        verify_minutes: form.verify_minutes,
        mark: form.mark,
        cause_prior_weight: form.cause_prior_weight,
        systems,
        outcomes,
        payers,
        results,
        leak_paths,
        failure_modes,
        causes,
        set_ups,
        blocks,
        tests,
        repairs,
        names: std::mem::take(names),
    };
    references(s, &catalog)?;
    Ok(catalog)
}

fn head(s: &Source, form: &CatalogForm) -> Result<()> {
    if form.mark.trim().is_empty() {
        return Err(s.fault(
            "mark",
            &form.mark,
            "a catalog must say what its numbers are",
        ));
    }
    if !(form.cause_prior_weight.is_finite() && form.cause_prior_weight > 0.0) {
        let what = "the weight of the starting shares must be above 0";
        return Err(s.fault("cause_prior_weight", form.cause_prior_weight, what));
    }
    let share = form.severity.frank_share;
    if !(share > 0.0 && share < 1.0 && (0.0..=1.0).contains(&form.severity.apart)) {
        let what = "frank_share lies between 0 and 1, apart from 0 to 1";
        return Err(s.fault("severity", format!("{:?}", form.severity), what));
    }
    if !(form.verify_minutes.is_finite() && form.verify_minutes >= 0.0) {
        let what = "minutes must be finite and not negative";
        return Err(s.fault("verify_minutes", form.verify_minutes, what));
    }
    Ok(())
}

fn systems(
    s: &Source,
    names: &mut Names,
    forms: BTreeMap<String, Spanned<String>>,
) -> Result<Vec<Word>> {
    let mut systems = Vec::with_capacity(forms.len());
    for (id, title) in forms {
        names_of(s, names, Kind::System, &title, (&id, title.as_ref(), &[]))?;
        systems.push(Word {
            id,
            title: title.into_inner(),
            aliases: Vec::new(),
        });
    }
    Ok(systems)
}

/// Ids are lower case, digits and underscores, so that they need no quoting anywhere; every name means one entry.
pub(super) fn names_of<T>(
    s: &Source,
    names: &mut Names,
    kind: Kind,
    at: &Spanned<T>,
    (id, title, aliases): (&str, &str, &[String]),
) -> Result<()> {
    let key = format!("{}.id", kind.title());
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
    if id.is_empty() || !id.chars().all(plain) {
        let what = "an id is made of lower-case letters, digits and underscores";
        return Err(s.fault_at(at, &key, id, what));
    }
    if title.trim().is_empty() {
        return Err(s.fault_at(at, &key, id, "this entry has no title"));
    }
    if names.resolve(kind, id) == Some(id) {
        return Err(s.fault_at(at, &key, id, "this id is already defined"));
    }
    for name in [id, title]
        .into_iter()
        .chain(aliases.iter().map(String::as_str))
    {
        names.add(kind, name, id).map_err(|other| {
            let what = format!("this name of {id:?} already means {other:?}");
            s.fault_at(at, &format!("{}.aliases", kind.title()), name, what)
        })?;
    }
    Ok(())
}

fn words(
    s: &Source,
    names: &mut Names,
    kind: Kind,
    forms: Vec<Spanned<Word>>,
) -> Result<Vec<Word>> {
    for form in &forms {
        let w = form.as_ref();
        names_of(s, names, kind, form, (&w.id, &w.title, &w.aliases))?;
    }
    Ok(forms.into_iter().map(Spanned::into_inner).collect())
}

fn fixed_ids(s: &Source, key: &str, words: &[Word], ids: &[&str]) -> Result<()> {
    if let Some(missing) = ids.iter().find(|id| words.iter().all(|w| w.id != **id)) {
        return Err(s.fault(key, missing, "this fixed id is missing"));
    }
    match words.iter().find(|w| !ids.contains(&w.id.as_str())) {
        Some(extra) => Err(s.fault(
            key,
            &extra.id,
            format!(
                "these ids are fixed: {}; add an alias instead",
                ids.join(", ")
            ),
        )),
        None => Ok(()),
    }
}

type ModeForms = BTreeMap<String, BTreeMap<String, Spanned<Vec<String>>>>;

fn failure_modes(s: &Source, names: &mut Names, kinds: ModeForms) -> Result<Vec<FailureMode>> {
    let mut modes = Vec::new();
    for (kind, forms) in kinds {
        for (id, aliases) in forms {
            let title = id.replace('_', " ");
            let named = (id.as_str(), title.as_str(), aliases.as_ref().as_slice());
            names_of(s, names, Kind::FailureMode, &aliases, named)?;
            modes.push(FailureMode {
                title,
                kind: kind.clone(),
                aliases: aliases.into_inner(),
                id,
            });
        }
    }
    Ok(modes)
}

/// What only the whole can tell: causes speak of known systems and modes, and each has a repair.
fn references(s: &Source, catalog: &Catalog) -> Result<()> {
    for cause in &catalog.causes {
        if catalog.systems.iter().all(|w| w.id != cause.system) {
            let what = format!("cause {:?} is in a system that does not exist", cause.id);
            return Err(s.fault("cause.system", &cause.system, what));
        }
        let known = |id: &String| catalog.failure_modes.iter().any(|m| m.id == *id);
        if let Some(mode) = cause.modes.iter().find(|id| !known(id)) {
            let what = format!(
                "cause {:?} has a failure mode that does not exist",
                cause.id
            );
            return Err(s.fault("cause.modes", mode, what));
        }
        if catalog.repairs_for(&cause.id).next().is_none() {
            return Err(s.fault("repair.for", &cause.id, "no repair cures this cause"));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_name_file_line_key_and_value() {
        let good = Catalog::embedded_text();
        for (from, to, needles) in [
            (
                "share = 22",
                "share = 21",
                ["field cause.share", "value \"99\"", "sum to 100"],
            ),
            (
                "share = 22",
                "share = 0",
                ["line ", "value \"0\"", "above 0"],
            ),
            (
                "modes = [\"worn\", \"fouled\"",
                "modes = [\"wore\", \"fouled\"",
                ["cause.modes", "\"wore\"", "\"spark_plug\""],
            ),
            (
                "[\"intake_off\"]",
                "[\"outtake_off\"]",
                ["line ", "test.set_ups", "outtake_off"],
            ),
            (
                "block = \"sealing\"",
                "block = \"ceiling\"",
                ["line ", "test.block", "ceiling"],
            ),
            (
                "hazards = [\"shop_air\"",
                "hazards = [\"shop_fire\"",
                ["line ", "test.hazards", "shop_fire"],
            ),
            (
                "units = [\"kV\"",
                "units = [\"kW\"",
                ["line ", "test.units", "kW"],
            ),
            (
                "92s",
                "92x",
                ["line ", "matrix.rows.ignition_coil", "\"92x\""],
            ),
            (
                "92s",
                "",
                ["line ", "matrix.rows.ignition_coil", "13 cells for 14"],
            ),
            ("SC  CS", "SC  SC", ["matrix.columns", "\"SC\"", "twice"]),
            ("SC  CS", "SC", ["matrix.columns", "coil_swap", "no column"]),
            (
                "share = 22\n",
                "share = 22\ncolour = 1\n",
                ["line ", "colour", "unknown field"],
            ),
            (
                "id = \"head_crack\"",
                "id = \"head_gasket\"",
                ["line ", "\"head_gasket\"", "already defined"],
            ),
            (
                "aliases = [\"cracked head\"",
                "aliases = [\"plug\"",
                ["\"plug\"", "\"head_crack\"", "\"spark_plug\""],
            ),
            (
                "floor_percent = 0.5",
                "floor_percent = 0",
                ["leak_path.floor_percent", "\"0\"", "above 0"],
            ),
            (
                "minutes = [45, 120]",
                "minutes = [5, 120]",
                ["test.minutes", "[5.0, 120.0]", "set-ups"],
            ),
            (
                "[[outcome]]\nid = \"confirmed\"",
                "[[outcome]]\nid = \"proved\"",
                ["outcome", "confirmed", "fixed id"],
            ),
            (
                "for = [\"valve_spring\"]",
                "for = []",
                ["repair.for", "valve_spring", "no repair"],
            ),
            (
                "for = [\"valve_spring\"]",
                "for = [\"spring\"]",
                ["repair.for", "\"spring\"", "no such cause"],
            ),
        ] {
            assert!(good.contains(from), "{from}");
            let text = good.replacen(from, to, 1);
            let problem = Catalog::from_toml(&text, "own.toml")
                .expect_err(to)
                .to_string();
            assert!(problem.starts_with("own.toml"), "{problem}");
            for needle in needles {
                assert!(
                    problem.contains(needle),
                    "{to}: {needle:?} is not in {problem}"
                );
            }
        }
    }
}
