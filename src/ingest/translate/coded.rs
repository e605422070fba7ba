//! Words into ids: through the mapping's code list, else by the catalog's own ids, titles and aliases, never by likeness.

use std::collections::HashMap;
use std::sync::Arc;

use crate::ingest::mapping::Field;
use crate::ingest::mapping::bind::BoundField;
use crate::ingest::mapping::code_list::Names;
use crate::ingest::rule::{Reason, Rejection};

/// What a word means: an id, or nothing.
pub type Coded = Result<Option<Arc<str>>, Rejection>;

/// Words already looked up in one field; shops use few different ones.
#[derive(Debug, Default)]
pub struct Memory {
    known: HashMap<String, Coded>,
}

/// More words than this in one field are free text, which is not remembered.
const MOST_WORDS: usize = 4096;

impl Memory {
    /// The id of a word that is not empty.
    pub fn lookup(
        &mut self,
        field: Field,
        bound: &BoundField,
        names: &Names,
        word: &str,
    ) -> &Coded {
        if !self.known.contains_key(word) {
            if self.known.len() >= MOST_WORDS {
                self.known.clear();
            }
            self.known
                .insert(word.to_owned(), resolve(field, bound, names, word));
        }
        self.known.get(word).unwrap_or(&Ok(None))
    }
}

fn resolve(field: Field, bound: &BoundField, names: &Names, word: &str) -> Coded {
    if let Some(id) = bound.codes.get(word) {
        return Ok(id.map(Arc::from));
    }
    match names.resolve(field, word) {
        Some(id) => Ok(Some(id.into())),
        None => Err(Rejection {
            reason: Reason::UnknownCode,
            hint: names.did_you_mean(field, word),
        }),
    }
}
