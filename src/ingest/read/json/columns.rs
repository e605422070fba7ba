//! The columns of a JSON file: found while reading, appended, never moved.

use std::collections::HashMap;

use super::super::record::Header;
use crate::domain::suggestion::closest;

/// More different names than any export has; beyond it the names are data, and memory would grow with the file.
const LIMIT: usize = 4096;

/// Columns by their exact path.
#[derive(Debug)]
pub(super) struct Columns {
    header: Header,
    paths: Vec<String>,
    by_path: HashMap<String, usize>,
    /// Columns that were asked for before any record had them, and whether one has by now.
    asked: Vec<(usize, bool)>,
}

impl Columns {
    pub(super) fn new() -> Self {
        Self {
            header: Header::new(std::iter::empty::<&str>(), true),
            paths: Vec::new(),
            by_path: HashMap::new(),
            asked: Vec::new(),
        }
    }

    pub(super) fn header(&self) -> &Header {
        &self.header
    }

    /// The column of a path, appended if it is new; `None` when there are too many. `guess` is tried first: records of one
    /// file mostly have their names in the same order.
    pub(super) fn find(&mut self, path: &str, guess: usize) -> Option<usize> {
        let known = match self.paths.get(guess) {
            Some(guessed) if guessed == path => Some(guess),
            _ => self.by_path.get(path).copied(),
        };
        let Some(column) = known else {
            return self.append(path);
        };
        for (asked, seen) in &mut self.asked {
            *seen |= *asked == column;
        }
        Some(column)
    }

    /// Appends a column that no record has had so far.
    pub(super) fn ask(&mut self, path: &str) -> Option<usize> {
        let column = self.append(path)?;
        self.asked.push((column, false));
        Some(column)
    }

    /// One sentence for each column that was asked for and that no record had.
    pub(super) fn never_seen(&self) -> Vec<String> {
        let is_asked = |column: usize| self.asked.iter().any(|(a, _)| *a == column);
        let names = self.header.names().iter().enumerate();
        let found: Vec<&str> = names
            .filter(|(column, _)| !is_asked(*column))
            .map(|(_, name)| name.as_str())
            .collect();
        let missing = self.asked.iter().filter(|(_, seen)| !seen);
        missing
            .filter_map(|(column, _)| self.header.names().get(*column))
            .map(|name| match closest(name, found.iter().copied()) {
                Some(near) => format!("no record has a column {name:?}; is it {near:?}?"),
                None => format!("no record has a column {name:?}"),
            })
            .collect()
    }

    fn append(&mut self, path: &str) -> Option<usize> {
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

    #[test]
    fn tells_what_was_asked_for_and_never_came() {
        let mut c = Columns::new();
        c.find("vin", 0);
        let (site, km) = (c.ask("site"), c.ask("odometer"));
        assert_eq!((site, km), (Some(1), Some(2)));
        assert_eq!(c.find("site", 1), site);
        assert_eq!(c.never_seen(), ["no record has a column \"odometer\""]);
    }
}
