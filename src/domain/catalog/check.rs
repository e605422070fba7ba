//! From the shape of a catalog file to a catalog that holds together; every fault names file, line, key and value.

use std::path::Path;

use toml::Spanned;

use super::check_rows;
use super::contents::Catalog;
use super::entry::{Block, Cause, FailureMode, Repair, SetUp, Test, Word};
use super::form::{CatalogForm, CauseForm, RepairForm, SetUpForm, TestForm};
use super::name::{Kind, Names};
use crate::domain::caution;
use crate::domain::outcome::Outcome;
use crate::domain::problem::{Problem, Result};
use crate::domain::toml_file;
use crate::domain::unit::Unit;

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
    let mut names = Names::default();
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
    let outcome_ids = Outcome::ALL.map(Outcome::id);
    let outcomes = words(s, &mut names, Kind::Outcome, form.outcome)?;
    fixed_ids(s, "outcome", &outcomes, &outcome_ids)?;
    let payers = words(s, &mut names, Kind::Payer, form.payer)?;
    fixed_ids(s, "payer", &payers, &PAYERS)?;
    let results = words(s, &mut names, Kind::TestResult, form.result)?;
    fixed_ids(s, "result", &results, &RESULTS)?;
    let leak_paths = words(s, &mut names, Kind::LeakPath, form.path)?;
    let failure_modes = failure_modes(s, &mut names, form.failure_mode)?;
    let mut systems = Vec::new();
    for (id, title) in form.system {
        let no_aliases: &[String] = &[];
        let titled = title.as_ref().clone();
        names_of(
            s,
            &mut names,
            Kind::System,
            &title,
            (&id, &titled, no_aliases),
        )?;
        systems.push(Word {
            id,
            title: titled,
            aliases: Vec::new(),
        });
    }
    let causes = causes(s, &mut names, form.cause)?;
    let set_ups = form
        .set_up
        .iter()
        .map(|f| set_up(s, f))
        .collect::<Result<Vec<_>>>()?;
    let blocks: Vec<Block> = form.block.into_iter().map(Spanned::into_inner).collect();
    let tests = tests(s, &mut names, &set_ups, &blocks, form.test)?;
    let repairs = repairs(s, &mut names, form.repair)?;
    let columns = check_rows::columns(s, &form.matrix.columns, &tests)?;
    let catalog = Catalog {
        matrix: check_rows::matrix(s, &form.matrix, columns.len(), &causes)?,
        matrix_tests: columns,
        leak_path_weight: form.leak_path.weight,
        leak_path_shares: check_rows::leak_paths(s, &form.leak_path, &leak_paths, &causes)?,
        wet_recovery: check_rows::wet_step(s, &form.wet_step, &causes)?,
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
        names,
    };
    references(s, &catalog)?;
    Ok(catalog)
}

/// Ids are lower case, digits and underscores, so that they need no quoting anywhere; every name means one entry.
fn names_of<T>(
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

type ModeForms =
    std::collections::BTreeMap<String, std::collections::BTreeMap<String, Spanned<Vec<String>>>>;

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

fn causes(s: &Source, names: &mut Names, forms: Vec<Spanned<CauseForm>>) -> Result<Vec<Cause>> {
    let mut causes = Vec::with_capacity(forms.len());
    for at in forms {
        let f = at.as_ref();
        names_of(s, names, Kind::Cause, &at, (&f.id, &f.title, &f.aliases))?;
        if !(f.share > 0.0 && f.share <= 100.0) {
            let what = format!("the share of {:?} must be above 0 percent", f.id);
            return Err(s.fault_at(&at, "cause.share", f.share, what));
        }
        let f = at.into_inner();
        causes.push(Cause {
            id: f.id,
            title: f.title,
            system: f.system,
            modes: f.modes,
            share_percent: f.share,
            head_off: f.head_off,
            note: f.note,
            aliases: f.aliases,
        });
    }
    let sum: f64 = causes.iter().map(|c| c.share_percent).sum();
    match (sum - 100.0).abs() < 1e-6 {
        true => Ok(causes),
        false => Err(s.fault(
            "cause.share",
            sum,
            "the shares of all causes must sum to 100",
        )),
    }
}

/// Easy and hard minutes: finite, not negative, hard at least as long as easy.
fn minutes_fit(minutes: [f64; 2]) -> bool {
    let [easy, hard] = minutes;
    easy.is_finite() && hard.is_finite() && easy >= 0.0 && hard >= easy
}

fn set_up(s: &Source, at: &Spanned<SetUpForm>) -> Result<SetUp> {
    let f = at.as_ref();
    if !minutes_fit(f.minutes) {
        let what = format!(
            "the minutes of {:?} must be [easy, hard], hard not below easy",
            f.id
        );
        return Err(s.fault_at(at, "set_up.minutes", format!("{:?}", f.minutes), what));
    }
    let [minutes_easy, minutes_hard] = f.minutes;
    Ok(SetUp {
        id: f.id.clone(),
        title: f.title.clone(),
        minutes_easy,
        minutes_hard,
    })
}

fn tests(
    s: &Source,
    names: &mut Names,
    set_ups: &[SetUp],
    blocks: &[Block],
    forms: Vec<Spanned<TestForm>>,
) -> Result<Vec<Test>> {
    let mut tests = Vec::with_capacity(forms.len());
    for at in forms {
        let f = at.as_ref();
        names_of(s, names, Kind::Test, &at, (&f.id, &f.title, &f.aliases))?;
        if let Some(code) = &f.code {
            names.add(Kind::Test, code, &f.id).map_err(|other| {
                s.fault_at(
                    &at,
                    "test.code",
                    code,
                    format!("this code already means {other:?}"),
                )
            })?;
        }
        if let Some(id) = f
            .set_ups
            .iter()
            .find(|id| set_ups.iter().all(|u| u.id != **id))
        {
            return Err(s.fault_at(&at, "test.set_ups", id, "there is no such set-up"));
        }
        if let Some(id) = &f.block
            && blocks.iter().all(|b| b.id != *id)
        {
            return Err(s.fault_at(&at, "test.block", id, "there is no such block"));
        }
        if let Some(id) = f
            .hazards
            .iter()
            .find(|id| caution::hazard_by_id(id).is_none())
        {
            return Err(s.fault_at(&at, "test.hazards", id, "there is no such hazard"));
        }
        tests.push(test(s, &at, set_ups)?);
    }
    Ok(tests)
}

fn test(s: &Source, at: &Spanned<TestForm>, set_ups: &[SetUp]) -> Result<Test> {
    let f = at.as_ref();
    let mut units = Vec::with_capacity(f.units.len());
    for text in &f.units {
        let unit = Unit::parse(text)
            .ok_or_else(|| s.fault_at(at, "test.units", text, "there is no such unit"))?;
        // Readings are stored in canonical units only.
        units.push(unit.canonical());
    }
    let [minutes_easy, minutes_hard] = f.minutes;
    let mine = || set_ups.iter().filter(|u| f.set_ups.contains(&u.id));
    let set_up_easy: f64 = mine().map(|u| u.minutes_easy).sum();
    let set_up_hard: f64 = mine().map(|u| u.minutes_hard).sum();
    if !minutes_fit(f.minutes) || minutes_easy < set_up_easy || minutes_hard < set_up_hard {
        let what = format!(
            "the minutes of {:?} must be [easy, hard], hard not below easy, and not below its set-ups ({set_up_easy} and {set_up_hard})",
            f.id
        );
        return Err(s.fault_at(at, "test.minutes", format!("{:?}", f.minutes), what));
    }
    Ok(Test {
        id: f.id.clone(),
        code: f.code.clone(),
        title: f.title.clone(),
        scope: f.scope,
        units,
        minutes_easy,
        minutes_hard,
        set_ups: f.set_ups.clone(),
        block: f.block.clone(),
        invasive: f.invasive.clone(),
        hazards: f.hazards.clone(),
        separates: f.separates.clone(),
        abnormal: f.abnormal.clone(),
        criterion: f.criterion.clone(),
        needs: f.needs.clone(),
        aliases: f.aliases.clone(),
    })
}

fn repairs(s: &Source, names: &mut Names, forms: Vec<Spanned<RepairForm>>) -> Result<Vec<Repair>> {
    let mut repairs = Vec::with_capacity(forms.len());
    for at in forms {
        let f = at.as_ref();
        names_of(s, names, Kind::Repair, &at, (&f.id, &f.title, &f.aliases))?;
        if !minutes_fit(f.hours) {
            let what = format!(
                "the hours of {:?} must be [from, to], to not below from",
                f.id
            );
            return Err(s.fault_at(&at, "repair.hours", format!("{:?}", f.hours), what));
        }
        if let Some(id) = f
            .cures
            .iter()
            .find(|id| names.resolve(Kind::Cause, id) != Some(id))
        {
            return Err(s.fault_at(&at, "repair.for", id, "there is no such cause"));
        }
        let f = at.into_inner();
        let [hours_from, hours_to] = f.hours;
        repairs.push(Repair {
            id: f.id,
            title: f.title,
            cures: f.cures,
            hours_from,
            hours_to,
            head_off: f.head_off,
            note: f.note,
            aliases: f.aliases,
        });
    }
    Ok(repairs)
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
