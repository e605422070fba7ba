//! Writes the mapping file beside an export, so that the generated folder can be ingested as it is.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use crate::domain::problem::{AtFile, Result};
use crate::synth::export::words::{Vocabulary, word};
use crate::synth::model::Model;
use crate::synth::scenario::Habit;

/// A text in TOML quotes.
pub fn quoted(text: &str) -> String {
    toml::Value::String(text.to_string()).to_string()
}

/// A mapping file under construction.
pub struct Mapping {
    text: String,
}

impl Mapping {
    /// Begins with a sentence for people, the source and the files.
    pub fn new(says: &str, source: &str, files: &[&str]) -> Self {
        let list: Vec<String> = files.iter().map(|f| quoted(f)).collect();
        Self {
            text: format!(
                "# {says}\nsource = {}\nfiles = [{}]\n",
                quoted(source),
                list.join(", ")
            ),
        }
    }

    /// A table of plain keys; values are TOML as they stand.
    pub fn section(mut self, name: &str, values: &[(&str, &str)]) -> Self {
        let _ = writeln!(self.text, "\n[{name}]");
        for (key, value) in values {
            let _ = writeln!(self.text, "{key} = {value}");
        }
        self
    }

    /// Code lists of the words that a habit's system uses.
    pub fn words(mut self, model: &Model, habit: Habit, vocabularies: &[Vocabulary]) -> Self {
        for vocabulary in vocabularies {
            let mut list = BTreeMap::new();
            for (id, number) in ids(model, *vocabulary) {
                list.insert(word(habit, *vocabulary, &id, number), id);
            }
            self = self.codes(vocabulary.field(), &list);
        }
        self
    }

    /// One code list.
    pub fn codes(mut self, field: &str, list: &BTreeMap<String, String>) -> Self {
        let _ = writeln!(self.text, "\n[codes.{field}]");
        for (word, id) in list {
            let _ = writeln!(self.text, "{} = {}", quoted(word), quoted(id));
        }
        self
    }

    /// Site codes of a habit's sites.
    pub fn sites(self, model: &Model, habit: Habit) -> Self {
        let sites = model.scenario.sites.iter().filter(|s| s.habit == habit);
        let list = sites.map(|s| (s.code.clone(), s.name.clone())).collect();
        self.codes("site", &list)
    }

    /// A table that the export feeds; `when` and the columns' values are TOML as they stand.
    pub fn table(mut self, into: &str, when: Option<&str>, columns: &[(&str, &str)]) -> Self {
        let _ = writeln!(self.text, "\n[[table]]\ninto = {}", quoted(into));
        if let Some(when) = when {
            let _ = writeln!(self.text, "when = {when}");
        }
        let _ = writeln!(self.text, "[table.columns]");
        for (field, spec) in columns {
            let _ = writeln!(self.text, "{field} = {spec}");
        }
        self
    }

    /// Writes `name` below `folder`.
    pub fn write(self, folder: &Path, name: &str) -> Result<()> {
        let path = folder.join(name);
        std::fs::write(&path, self.text).at_file("write the mapping", &path)
    }
}

/// All ids of a vocabulary that the scenario can use, with their number.
fn ids(model: &Model, vocabulary: Vocabulary) -> Vec<(String, usize)> {
    let s = &model.scenario;
    let fixed = |list: &[&str]| list.iter().map(|id| (*id).to_string()).collect::<Vec<_>>();
    let mut list: Vec<String> = match vocabulary {
        Vocabulary::Cause => s.causes.iter().map(|c| c.id.clone()).collect(),
        Vocabulary::Mode => s.causes.iter().flat_map(|c| c.modes.clone()).collect(),
        Vocabulary::Repair => {
            let own = s
                .causes
                .iter()
                .flat_map(|c| c.repairs.iter().map(|r| r.id.clone()));
            own.chain(fixed(&["repair_declined", "vehicle_retired"]))
                .collect()
        }
        Vocabulary::Outcome => fixed(&[
            "confirmed",
            "no_fault_found",
            "not_reproduced",
            "unresolved_declined",
        ]),
        Vocabulary::Test => model.knowledge.test_ids().map(str::to_string).collect(),
        Vocabulary::Result => fixed(&["normal", "abnormal", "inconclusive"]),
        Vocabulary::Path => model.knowledge.path_ids().map(str::to_string).collect(),
        Vocabulary::Payer => fixed(&["customer", "warranty", "internal"]),
    };
    // Numbered words follow the scenario's order; lists with repetitions have no numbered words.
    if matches!(vocabulary, Vocabulary::Mode | Vocabulary::Repair) {
        list.sort_unstable();
        list.dedup();
    }
    list.into_iter()
        .enumerate()
        .map(|(number, id)| (id, number))
        .collect()
}
