//! What words mean, remembered: an export has few different ones in a column, and each is asked for in row after row.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::hash::{BuildHasherDefault, Hasher};

use xxhash_rust::xxh3::xxh3_64;

/// Hashes stay as they are.
#[derive(Debug, Default)]
struct AsIs(u64);

impl Hasher for AsIs {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = self.0.rotate_left(8) ^ u64::from(*byte);
        }
    }

    fn write_u64(&mut self, n: u64) {
        self.0 = n;
    }
}

/// Words with what they mean, found by the hash of the word and confirmed by the word itself.
#[derive(Debug)]
pub struct WordMap<T> {
    known: HashMap<u64, (Box<str>, T), BuildHasherDefault<AsIs>>,
    most: usize,
}

impl<T> WordMap<T> {
    /// An empty map that forgets everything when it holds so many words: they are free text then.
    pub fn of_at_most(most: usize) -> Self {
        Self {
            known: HashMap::default(),
            most,
        }
    }

    /// What `word` means; found out by `find` where it is not known.
    pub fn get_or(&mut self, word: &str, find: impl FnOnce() -> T) -> &T {
        let hash = xxh3_64(word.as_bytes());
        if self.known.len() >= self.most && !self.known.contains_key(&hash) {
            self.known.clear();
        }
        match self.known.entry(hash) {
            Entry::Occupied(there) => {
                let there = there.into_mut();
                if *there.0 != *word {
                    *there = (word.into(), find());
                }
                &there.1
            }
            Entry::Vacant(place) => &place.insert((word.into(), find())).1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_word_is_found_out_once_until_there_are_too_many() {
        let mut words = WordMap::of_at_most(3);
        let mut asked = Vec::new();
        for word in ["a", "b", "a", "", "", "c", "a"] {
            let meaning = *words.get_or(word, || {
                asked.push(word);
                word.len()
            });
            assert_eq!(meaning, word.len());
        }
        assert_eq!(asked, ["a", "b", "", "c", "a"]);
    }
}
