//! The JSON contracts as DEVELOPERS.md lists them, read from there, so that the text cannot fall behind the program.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value as Json;

const TEXT: &str = include_str!("../../DEVELOPERS.md");

/// Type name → fields: name (with `?` when it may be absent) and type.
pub struct Contracts(BTreeMap<String, Vec<(String, String)>>);

impl Contracts {
    /// Reads the blocks marked `contract`.
    pub fn read() -> Self {
        let mut types = BTreeMap::new();
        for block in TEXT.split("```contract\n").skip(1) {
            let block = block.split("```").next().unwrap();
            for entry in block.split("\n\n").map(str::trim) {
                let mut lines = entry.lines();
                let name = lines.next().unwrap().to_owned();
                let field = |line: &str| {
                    let (name, kind) = line.split_once(' ').unwrap();
                    (name.to_owned(), kind.to_owned())
                };
                let known = types.insert(name.clone(), lines.map(field).collect());
                assert!(known.is_none(), "{name} is listed twice");
            }
        }
        Self(types)
    }

    /// Names of the contracts.
    pub fn names(&self) -> BTreeSet<&str> {
        let names = self.0.keys().map(String::as_str);
        names.filter(|n| n.starts_with("boretally.")).collect()
    }

    /// Every `type.field` listed.
    pub fn fields(&self) -> BTreeSet<String> {
        let of = |(name, fields): (&String, &Vec<(String, String)>)| {
            let full = |(f, _): &(String, String)| format!("{name}.{}", f.trim_end_matches('?'));
            fields.iter().map(full).collect::<Vec<_>>()
        };
        self.0.iter().flat_map(of).collect()
    }

    /// What is wrong with an answer; `seen` collects the fields that had a value.
    pub fn check(&self, answer: &Json, seen: &mut BTreeSet<String>) -> Vec<String> {
        let mut wrong = Vec::new();
        let mut fields = answer.clone();
        match fields.as_object_mut().and_then(|o| o.remove("contract")) {
            Some(Json::String(name)) => self.value(&fields, &name, &name, seen, &mut wrong),
            other => wrong.push(format!("contract: {other:?}")),
        }
        wrong
    }

    fn value(
        &self,
        value: &Json,
        kind: &str,
        at: &str,
        seen: &mut BTreeSet<String>,
        wrong: &mut Vec<String>,
    ) {
        if let Some(kind) = kind.strip_suffix('?') {
            if !value.is_null() {
                self.value(value, kind, at, seen, wrong);
            }
            return;
        }
        if let Some(inner) = kind.strip_prefix('[').and_then(|k| k.strip_suffix(']')) {
            match value.as_array() {
                Some(list) => {
                    for (i, item) in list.iter().enumerate() {
                        self.value(item, inner, &format!("{at}[{i}]"), seen, wrong);
                    }
                }
                None => wrong.push(format!("{at} is no list: {value}")),
            }
            return;
        }
        if let Some(inner) = kind.strip_prefix('{').and_then(|k| k.strip_suffix('}')) {
            match value.as_object() {
                Some(map) => {
                    for (key, item) in map {
                        self.value(item, inner, &format!("{at}.{key}"), seen, wrong);
                    }
                }
                None => wrong.push(format!("{at} is no object: {value}")),
            }
            return;
        }
        if !simple(value, kind).unwrap_or_else(|| {
            self.object(value, kind, at, seen, wrong);
            true
        }) {
            wrong.push(format!("{at} is no {kind}: {value}"));
        }
    }

    fn object(
        &self,
        value: &Json,
        kind: &str,
        at: &str,
        seen: &mut BTreeSet<String>,
        wrong: &mut Vec<String>,
    ) {
        let (Some(fields), Some(object)) = (self.0.get(kind), value.as_object()) else {
            wrong.push(format!("{at} is no {kind}: {value}"));
            return;
        };
        let mut left: BTreeSet<&String> = object.keys().collect();
        for (field, inner) in fields {
            let name = field.trim_end_matches('?');
            match object.get(name) {
                Some(found) => {
                    left.remove(&name.to_owned());
                    if !found.is_null() {
                        seen.insert(format!("{kind}.{name}"));
                    }
                    self.value(found, inner, &format!("{at}.{name}"), seen, wrong);
                }
                None if field.ends_with('?') => {}
                None => wrong.push(format!("{at}.{name} is missing")),
            }
        }
        wrong.extend(left.iter().map(|name| format!("{at}.{name} is not listed")));
    }
}

/// Whether a value is of a simple type; `None` for a type that is listed by its fields.
fn simple(value: &Json, kind: &str) -> Option<bool> {
    let is_day = |text: &str| boretally::domain::day::Day::parse_iso(text).is_some();
    Some(match kind {
        "text" => value.is_string(),
        "whole" => value.is_i64() || value.is_u64(),
        "number" => value.is_number(),
        "flag" => value.is_boolean(),
        "day" => value.as_str().is_some_and(is_day),
        "key" => value.as_object().is_some_and(|o| {
            o.values()
                .all(|v| v.is_null() || v.is_string() || v.is_i64())
        }),
        _ => return None,
    })
}

#[test]
fn the_check_notices_what_is_wrong() {
    let contracts = Contracts::read();
    let right = serde_json::json!({
        "contract": "boretally.interval/1", "kind": "rate", "events": 3, "exposure": 2.5, "per": 1.0, "value": 1.2,
        "level": 0.95, "methods": [{"method": "a", "title": "b", "lower": 0.1, "upper": 0.2, "source": "c"}],
        "caveats": []
    });
    let check = |answer: &Json| contracts.check(answer, &mut BTreeSet::new());
    assert_eq!(check(&right), Vec::<String>::new());
    let changes: [(&str, Json, &str); 5] = [
        ("events", 1.5.into(), "is no whole"),
        (
            "methods",
            serde_json::json!([{"method": "a"}]),
            "methods[0].upper is missing",
        ),
        ("value", Json::Null, "is no number"),
        ("extra", 1.into(), "extra is not listed"),
        (
            "contract",
            "boretally.interval/2".into(),
            "is no boretally.interval/2",
        ),
    ];
    for (field, value, word) in changes {
        let mut answer = right.clone();
        answer[field] = value;
        let wrong = check(&answer).join("\n");
        assert!(wrong.contains(word), "{field}: {wrong}");
    }
}
