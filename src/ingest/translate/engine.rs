//! Which engine family a record is about: stated by id, or matched from the engine text and the model year.

use std::collections::HashMap;

use crate::domain::family::{EngineFamily, Families, Match};

use super::word_map::WordMap;

/// What an engine text turned out to mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found<'a> {
    /// One family.
    Family(&'a EngineFamily),
    /// None.
    Unknown,
    /// Several, or it depends on a model year that is missing.
    Ambiguous,
}

/// Matches engine texts, remembering those already seen.
#[derive(Debug)]
pub struct Matcher<'a> {
    families: &'a Families,
    known: HashMap<(String, Option<i32>), Found<'a>>,
    ids: WordMap<Option<&'a EngineFamily>>,
}

const MOST_TEXTS: usize = 16_384;

impl<'a> Matcher<'a> {
    /// A matcher over these families.
    pub fn new(families: &'a Families) -> Self {
        Self {
            families,
            known: HashMap::new(),
            ids: WordMap::of_at_most(MOST_TEXTS),
        }
    }

    /// The family of that id.
    pub fn by_id(&mut self, id: &str) -> Option<&'a EngineFamily> {
        *self.ids.get_or(id, || self.families.get(id))
    }

    /// The family of an engine text that is not empty.
    pub fn by_text(&mut self, text: &str, model_year: Option<i32>) -> Found<'a> {
        let key = (text.to_owned(), model_year);
        if let Some(found) = self.known.get(&key) {
            return *found;
        }
        let found = match self.families.find(text, model_year) {
            Match::One(family) => Found::Family(family),
            Match::None => Found::Unknown,
            Match::Ambiguous(_) => Found::Ambiguous,
        };
        if self.known.len() < MOST_TEXTS {
            self.known.insert(key, found);
        }
        found
    }
}
