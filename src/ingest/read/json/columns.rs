//! The columns of a JSON file: found while reading, appended, never moved.

use std::collections::HashMap;

use super::super::record::Header;

/// More different names than any export has; beyond it the names are data, and memory would grow with the file.
const LIMIT: usize = 4096;

/// Columns by their exact path.
#[derive(Debug)]
pub(super) struct Columns {
    header: Header,
    paths: Vec<String>,
    by_path: HashMap<String, usize>,
}

impl Columns {
    pub(super) fn new() -> Self {
        Self {
            header: Header::new(std::iter::empty::<&str>(), true),
            paths: Vec::new(),
            by_path: HashMap::new(),
        }
    }

    pub(super) fn header(&self) -> &Header {
        &self.header
    }

    /// The column of a path, appended if it is new; `None` when there are too many. `guess` is tried first: records of one
    /// file mostly have their names in the same order.
    pub(super) fn find(&mut self, path: &str, guess: usize) -> Option<usize> {
        if self.paths.get(guess).is_some_and(|p| p == path) {
            return Some(guess);
        }
        if let Some(&column) = self.by_path.get(path) {
            return Some(column);
        }
        if self.paths.len() >= LIMIT {
            return None;
        }
        self.paths.push(path.to_string());
        let column = self.header.add(path);
        self.by_path.insert(path.to_string(), column);
        Some(column)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn appends_and_stops_at_the_limit() {
        let mut c = Columns::new();
        assert_eq!(c.find("a", 0), Some(0));
        assert_eq!(c.find(" a", 9), Some(1));
        assert_eq!(c.find(" a", 0), Some(1));
        assert_eq!(c.header().names(), ["a", "a (2)"]);
        for i in 2..LIMIT {
            c.find(&format!("n{i}"), 0);
        }
        assert_eq!(c.find("one more", 0), None);
        assert_eq!(c.find("a", 5), Some(0));
    }
}
