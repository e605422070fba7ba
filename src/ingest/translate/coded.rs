//! Words into ids: through the mapping's code list, else by the catalog's own ids, titles and aliases, never by likeness.

use std::rc::Rc;

use crate::ingest::mapping::Field;
use crate::ingest::mapping::bind::BoundField;
use crate::ingest::mapping::code_list::Names;
use crate::ingest::rule::{Reason, Rejection};

use super::word_map::WordMap;

/// What a word means: an id, or nothing.
pub type Coded = Result<Option<Rc<str>>, Rejection>;

/// Words already looked up in one field; shops use few different ones.
#[derive(Debug)]
pub struct Memory {
    known: WordMap<Coded>,
}

/// More words than this in one field are free text.
const MOST_WORDS: usize = 4096;

impl Default for Memory {
    fn default() -> Self {
        Self {
            known: WordMap::of_at_most(MOST_WORDS),
        }
    }
}

impl Memory {
    /// The id of a word that is not empty.
    pub fn lookup(
        &mut self,
        field: Field,
        bound: &BoundField,
        names: &Names,
        word: &str,
    ) -> &Coded {
        self.known
            .get_or(word, || resolve(field, bound, names, word))
    }
}

fn resolve(field: Field, bound: &BoundField, names: &Names, word: &str) -> Coded {
    if let Some(id) = bound.codes.get(word) {
        return Ok(id.map(Rc::from));
    }
    match names.resolve(field, word) {
        Some(id) => Ok(Some(id.into())),
        None => Err(Rejection {
            reason: Reason::UnknownCode,
            hint: names.did_you_mean(field, word),
        }),
    }
}
