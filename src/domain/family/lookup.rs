//! All known engine families, and the one that an engine text and model year mean.

use std::collections::{BTreeMap, HashMap};
use std::path::Path;

use super::engine::{EngineFamily, MatchRule};
use super::file;
use crate::domain::problem::{Problem, Result};
use crate::domain::suggestion::closest;
use crate::domain::toml_file;

/// What an engine text and model year mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Match<'a> {
    /// Exactly one family.
    One(&'a EngineFamily),
    /// No family has this text, or none has it in this year.
    None,
    /// The text is known, but the model year is missing and the rules that carry the text depend on it. The ids of
    /// the families it may be; nothing is guessed, even if there is only one.
    Ambiguous(Vec<&'a str>),
}

/// A set of engine families without contradictions, in the order of their ids.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Families {
    by_id: BTreeMap<String, EngineFamily>,
    /// Normal form of an engine text → the rules that carry it, by family.
    by_engine: HashMap<String, Vec<(String, MatchRule)>>,
}

impl Families {
    /// Reads a families file from its text; `file` is named in messages.
    ///
    /// # Errors
    /// Syntax, unknown keys, a firing order that is no permutation, wrong banks, an id twice, and an engine text that
    /// two families claim for the same model year.
    pub fn from_toml(text: &str, file: impl AsRef<Path>) -> Result<Self> {
        let file = file.as_ref();
        let mut families = Self::default();
        for located in file::read(text, file)? {
            let at = |p: Problem| p.file(file).line(located.line);
            if families.by_id.contains_key(&located.family.id) {
                return Err(at(Problem::data("this engine family is already defined")
                    .field("id")
                    .value(&located.family.id)
                    .remedy("give each [[family]] its own id")));
            }
            families.insert(located.family).map_err(at)?;
        }
        Ok(families)
    }

    /// Reads a families file.
    ///
    /// # Errors
    /// As `from_toml`, and when the file cannot be read.
    pub fn load(path: impl AsRef<Path>) -> Result<Self> {
        let path = path.as_ref();
        Self::from_toml(&toml_file::read(path, "read the engine families")?, path)
    }

    /// Writes the families back; the same families give the same bytes.
    pub fn to_toml(&self) -> Result<String> {
        file::write(self.by_id.values())
    }

    /// Adds the families of `other`: new ones join, known ones gain match rules, a missing firing order or bank list
    /// is filled, and a newer title stands.
    ///
    /// # Errors
    /// The same id with other hardware, or an engine text that two families claim for the same year. Nothing is
    /// changed then.
    pub fn merge(&mut self, other: &Families) -> Result<()> {
        let mut merged = self.clone();
        for newer in other.by_id.values() {
            let family = match merged.remove(&newer.id) {
                None => newer.clone(),
                Some(known) => combine(known, newer)?,
            };
            merged.insert(family)?;
        }
        *self = merged;
        Ok(())
    }

    /// The family of that id, exactly as written.
    pub fn get(&self, id: &str) -> Option<&EngineFamily> {
        self.by_id.get(id)
    }

    /// The family of that id, or a problem of the command line that names the nearest one.
    pub fn expect_id(&self, id: &str, field: &str) -> Result<&EngineFamily> {
        self.get(id).ok_or_else(|| {
            let remedy = match self.did_you_mean(id) {
                Some(near) => format!("did you mean {near:?}?"),
                None if self.by_id.is_empty() => {
                    "no engine family is known yet; ingest with a families file first".to_owned()
                }
                None => format!(
                    "known families: {}",
                    self.ids().collect::<Vec<_>>().join(", ")
                ),
            };
            Problem::data("there is no such engine family")
                .field(field)
                .value(id)
                .remedy(remedy)
        })
    }

    /// The family that an export's engine text means, given the model year if it is known.
    pub fn find(&self, engine_text: &str, model_year: Option<i32>) -> Match<'_> {
        let Some(rules) = self.by_engine.get(&normal_form(engine_text)) else {
            return Match::None;
        };
        // Rules of two families never fit the same year: `insert` refuses that.
        let fitting = rules.iter().find(|(_, rule)| rule.fits(model_year));
        match (fitting, model_year) {
            (Some((id, _)), _) => self.by_id.get(id).map_or(Match::None, Match::One),
            (None, Some(_)) => Match::None,
            (None, None) => {
                let mut ids: Vec<&str> = rules.iter().map(|(id, _)| id.as_str()).collect();
                ids.sort_unstable();
                ids.dedup();
                Match::Ambiguous(ids)
            }
        }
    }

    /// All ids, sorted.
    pub fn ids(&self) -> impl Iterator<Item = &str> {
        self.by_id.keys().map(String::as_str)
    }

    /// All families, sorted by id.
    pub fn iter(&self) -> impl Iterator<Item = &EngineFamily> {
        self.by_id.values()
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.by_id.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.by_id.is_empty()
    }

    /// The id nearest to what was typed, by id or by title.
    pub fn did_you_mean(&self, typed: &str) -> Option<String> {
        closest(typed, self.ids()).or_else(|| {
            let title = closest(typed, self.iter().map(|f| f.title.as_str()))?;
            let family = self.iter().find(|f| f.title == title)?;
            Some(family.id.clone())
        })
    }

    fn insert(&mut self, family: EngineFamily) -> Result<()> {
        for rule in &family.matches {
            let known = self.by_engine.get(&normal_form(&rule.engine));
            for (id, other) in known.into_iter().flatten() {
                if *id != family.id && rule.overlaps(other) {
                    return Err(Problem::data(format!(
                        "engine families {id:?} and {:?} both claim this engine text for the same model years",
                        family.id
                    ))
                    .field("match.engine")
                    .value(&rule.engine)
                    .remedy("give the two match rules model years (from, to) that do not overlap"));
                }
            }
        }
        for rule in &family.matches {
            let rules = self.by_engine.entry(normal_form(&rule.engine)).or_default();
            rules.push((family.id.clone(), rule.clone()));
            rules.sort();
        }
        self.by_id.insert(family.id.clone(), family);
        Ok(())
    }

    fn remove(&mut self, id: &str) -> Option<EngineFamily> {
        let family = self.by_id.remove(id)?;
        for rules in self.by_engine.values_mut() {
            rules.retain(|(owner, _)| owner != id);
        }
        Some(family)
    }
}

fn combine(known: EngineFamily, newer: &EngineFamily) -> Result<EngineFamily> {
    if let Some(field) = known.contradiction(newer) {
        return Err(Problem::data(format!(
            "engine family {:?} is already known with different {field}",
            known.id
        ))
        .field(field)
        .value(&newer.id)
        .remedy("give the other hardware an id of its own, or correct the families file"));
    }
    fn filled(a: Vec<u8>, b: &[u8]) -> Vec<u8> {
        if a.is_empty() { b.to_vec() } else { a }
    }
    let mut matches = known.matches;
    matches.extend(newer.matches.iter().cloned());
    matches.sort();
    matches.dedup();
    Ok(EngineFamily {
        // A family without a title is titled by its id, which is no news.
        title: match newer.title == newer.id {
            true => known.title,
            false => newer.title.clone(),
        },
        firing_order: filled(known.firing_order, &newer.firing_order),
        bank_1: filled(known.bank_1, &newer.bank_1),
        bank_2: filled(known.bank_2, &newer.bank_2),
        matches,
        ..known
    })
}

/// Case and white space make no difference between engine texts.
fn normal_form(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    words.join(" ").to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str = r#"
[[family]]
id = "ash-4"
title = "Ash 2.0 in-line four"
cylinders = 4
layout = "inline"
firing_order = "1-3-4-2"

[[family.match]]
engine = "ASH  2.0"
from = 2008
to = 2014

[[family]]
id = "birch-6"
cylinders = 6
layout = "vee"
firing_order = [1, 2, 3, 4, 5, 6]
bank_1 = [1, 3, 5]
bank_2 = [2, 4, 6]

[[family.match]]
engine = "ash 2.0"
from = 2015

[[family.match]]
engine = "Birch V6"
"#;

    fn families() -> Families {
        Families::from_toml(FILE, "families.toml").expect("a good file")
    }

    fn id(found: Match<'_>) -> Option<String> {
        match found {
            Match::One(f) => Some(f.id.clone()),
            _ => None,
        }
    }

    #[test]
    fn finds_by_text_and_year() {
        let f = families();
        assert_eq!(
            id(f.find(" Ash 2.0 ", Some(2010))).as_deref(),
            Some("ash-4")
        );
        assert_eq!(
            id(f.find("ASH 2.0", Some(2015))).as_deref(),
            Some("birch-6")
        );
        assert_eq!(f.find("ash 2.0", Some(2001)), Match::None);
        assert_eq!(
            f.find("ash 2.0", None),
            Match::Ambiguous(vec!["ash-4", "birch-6"])
        );
        assert_eq!(id(f.find("birch v6", None)).as_deref(), Some("birch-6"));
        assert_eq!(f.find("oak", Some(2010)), Match::None);
        assert_eq!(f.get("ash-4").map(|f| f.bank_1.len()), Some(4));
    }

    #[test]
    fn written_and_read_again_is_the_same() {
        let f = families();
        let text = f.to_toml().expect("writes");
        let again = Families::from_toml(&text, "again.toml").expect("reads");
        assert_eq!(f, again);
        assert_eq!(again.to_toml().expect("writes"), text);
    }

    #[test]
    fn refuses_with_place_and_reason() {
        let one = |body: &str| {
            format!("[[family]]\nid = \"a\"\ncylinders = 4\nlayout = \"inline\"\n{body}")
        };
        let two = |extra: &str| format!("{FILE}\n{extra}");
        for (text, needle) in [
            (
                one("firing_order = [1, 3, 4]"),
                "line 1, field firing_order",
            ),
            (one("bank_2 = [1]"), "one bank"),
            (one("color = 1"), "line 5: unknown field `color`"),
            (one("match = [{engine = \" \"}]"), "needs an engine text"),
            (
                one("match = [{engine = \"x\", from = 2010, to = 2000}]"),
                "after the last",
            ),
            (
                one("match = [{engine = \"x\", from = 10}]"),
                "not a model year",
            ),
            (
                two("[[family]]\nid=\"ash-4\"\ncylinders=4\nlayout=\"inline\""),
                "already defined",
            ),
            (
                two(
                    "[[family]]\nid=\"c\"\ncylinders=4\nlayout=\"inline\"\nmatch=[{engine=\"birch V6\", from=2001}]",
                ),
                "both claim this engine text",
            ),
            (one("").replace("inline", "star"), "unknown variant `star`"),
            (one("").replace('4', "0"), "1 to 32 cylinders"),
        ] {
            let problem = Families::from_toml(&text, "f.toml").expect_err(needle);
            assert!(problem.to_string().contains(needle), "{needle}: {problem}");
            assert!(problem.to_string().starts_with("f.toml"), "{problem}");
        }
    }

    #[test]
    fn merging_gathers_and_refuses_contradictions() {
        let mut f = families();
        let more = "[[family]]\nid=\"ash-4\"\ntitle=\"New title\"\ncylinders=4\nlayout=\"inline\"\nmatch=[{engine=\"A20\"}]";
        f.merge(&Families::from_toml(more, "m").expect("good"))
            .expect("merges");
        assert_eq!(f.len(), 2);
        assert_eq!(id(f.find("a20", None)).as_deref(), Some("ash-4"));
        assert_eq!(
            f.get("ash-4").map(|f| f.firing_order.clone()),
            Some(vec![1, 3, 4, 2])
        );
        let before = f.clone();
        let wrong = "[[family]]\nid=\"ash-4\"\ncylinders=5\nlayout=\"inline\"";
        let problem = f
            .merge(&Families::from_toml(wrong, "m").expect("good by itself"))
            .expect_err("contradicts");
        assert!(
            problem.to_string().contains("different cylinders"),
            "{problem}"
        );
        assert_eq!(f, before);
    }

    #[test]
    fn suggests_by_id_and_title() {
        let f = families();
        assert_eq!(f.did_you_mean("birch6").as_deref(), Some("birch-6"));
        assert_eq!(
            f.did_you_mean("ash 2.0 inline four").as_deref(),
            Some("ash-4")
        );
        let problem = f.expect_id("asch-4", "--family").expect_err("unknown");
        assert!(
            problem.to_string().contains("did you mean \"ash-4\""),
            "{problem}"
        );
    }
}
