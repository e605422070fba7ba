//! Code lists: the shop's words and what they mean in the house.

use std::collections::{BTreeMap, HashMap};

use crate::domain::catalog::Catalog;
use crate::domain::confirmation::Confirmation;
use crate::domain::family::Families;
use crate::domain::problem::Result;
use crate::ingest::cell::{flag, text};

use super::field::{Field, Words};
use super::mistake::{InMapping, one_of};
use super::raw::constant;

/// The cause and outcome id of words that are not mapped yet.
pub const UNMAPPED: &str = "other_unmapped";

/// No engine in road vehicles has more.
pub const MOST_CYLINDERS: u8 = 16;

/// One list for one field: normal form of the shop's word → the id, or nothing for words that mean "empty".
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CodeList {
    entries: HashMap<String, Option<String>>,
    targets: Vec<String>,
}

impl CodeList {
    /// Whether the list has any word.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// What a word means: `None` if the list does not know it, `Some(None)` if it means an empty cell.
    pub fn get(&self, word: &str) -> Option<Option<&str>> {
        if self.entries.is_empty() {
            return None;
        }
        self.entries
            .get(&text::normal_form(word))
            .map(|id| id.as_deref())
    }

    /// Whether a word stands on the right-hand side of the list.
    pub fn is_target(&self, word: &str) -> bool {
        self.targets.iter().any(|t| t == word)
    }

    /// Checks the list `[codes.name]` for `field`.
    pub fn read(
        name: &str,
        raw: &BTreeMap<String, toml::Value>,
        field: Field,
        names: &Names,
        at: InMapping,
    ) -> Result<Self> {
        let mut list = Self::plain(name, raw, at)?;
        for (word, id) in &mut list.entries {
            if let Some(id) = id {
                let key = format!("codes.{name}.{word:?}");
                *id = names.target(field, id, &key, at)?;
            }
        }
        list.targets = list.entries.values().flatten().cloned().collect();
        list.targets.sort();
        list.targets.dedup();
        Ok(list)
    }

    /// A list whose right-hand sides are checked elsewhere.
    pub fn plain(name: &str, raw: &BTreeMap<String, toml::Value>, at: InMapping) -> Result<Self> {
        let mut entries = HashMap::new();
        for (word, value) in raw {
            let key = format!("codes.{name}.{word:?}");
            let id = constant(value).ok_or_else(|| {
                at.mistake(&key, "should be an id in quotes")
                    .value(value.to_string())
                    .remedy("write \"the shop's word\" = \"id\"")
            })?;
            let id = (!id.is_empty()).then_some(id);
            if let Some(earlier) = entries.insert(text::normal_form(word), id.clone())
                && earlier != id
            {
                return Err(at
                    .mistake(
                        &key,
                        "the same word stands twice in the list and means two things",
                    )
                    .value(word)
                    .remedy("keep one: case, spaces, hyphens and underscores make no difference"));
            }
        }
        Ok(Self {
            entries,
            targets: Vec::new(),
        })
    }
}

/// The names that exist: the catalog's ids and the engine families.
#[derive(Debug, Clone, Copy)]
pub struct Names<'a> {
    /// Causes, tests, repairs and the words of a record.
    pub catalog: &'a Catalog,
    /// Engine families.
    pub families: &'a Families,
}

impl Names<'_> {
    /// What a word of an export means without a code list; `None` if nothing.
    pub fn resolve(&self, field: Field, word: &str) -> Option<String> {
        match field.words() {
            Words::Catalog(kind) => match self.catalog.resolve(kind, word) {
                None if field == Field::Cause && word == UNMAPPED => Some(UNMAPPED.to_owned()),
                id => id.map(str::to_owned),
            },
            Words::Cylinder => word
                .parse::<u8>()
                .ok()
                .filter(|n| (1..=MOST_CYLINDERS).contains(n))
                .map(|n| n.to_string()),
            Words::Confirmation => Confirmation::parse(word).map(|c| c.level().to_string()),
            Words::Family => self.families.get(word).map(|f| f.id.clone()),
            Words::Flag => flag::parse(word).ok().map(|yes| yes.to_string()),
            Words::Text | Words::None => Some(word.to_owned()),
        }
    }

    /// The nearest thing a word may have meant.
    pub fn did_you_mean(&self, field: Field, word: &str) -> Option<String> {
        match field.words() {
            Words::Catalog(kind) => self.catalog.did_you_mean(kind, word),
            Words::Family => self.families.did_you_mean(word),
            _ => None,
        }
    }

    fn target(&self, field: Field, id: &str, key: &str, at: InMapping) -> Result<String> {
        self.resolve(field, id).ok_or_else(|| {
            let known = match field.words() {
                Words::Catalog(kind) => self.catalog.ids(kind),
                Words::Family => self.families.ids().collect(),
                Words::Confirmation => vec!["0", "1", "2", "3"],
                Words::Cylinder => vec!["1 to 16"],
                Words::Flag => vec!["true", "false"],
                Words::Text | Words::None => Vec::new(),
            };
            let remedy = match self.did_you_mean(field, id) {
                Some(near) => format!("did you mean {near:?}? (there are: {})", known.join(", ")),
                None => one_of(id, &known),
            };
            at.mistake(key, format!("not a {} there is", field.name()))
                .value(id)
                .remedy(remedy)
        })
    }
}
