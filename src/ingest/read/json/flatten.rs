//! Turns one JSON object into the cells of a record, without an intermediate tree.
//!
//! Numbers: whole numbers of up to 64 bits are exact. Others go through a 64-bit float and come out as its shortest decimal, so
//! digits beyond the fifteenth may differ; whole numbers beyond 64 bits, which would lose digits unseen, are refused.

use std::fmt::{self, Write as _};

use serde::de::{DeserializeSeed, MapAccess, SeqAccess, Visitor};

use super::super::reader::DamageReason;
use super::super::record::{CellKind, RawRecord};
use super::columns::Columns;

/// From here on not every whole number of the file fits.
const EXACT_BELOW: f64 = 9_223_372_036_854_775_808.0;

/// Fills `record` (already begun) from the text of one object.
pub(super) fn flatten(
    text: &str,
    columns: &mut Columns,
    record: &mut RawRecord,
) -> Result<(), (DamageReason, String)> {
    let mut fill = Fill {
        columns,
        record,
        path: String::new(),
        depth: 0,
        guess: 0,
        reason: DamageReason::InvalidJson,
    };
    let mut json = serde_json::Deserializer::from_str(text);
    let result = Value(&mut fill)
        .deserialize(&mut json)
        .and_then(|()| json.end());
    let reason = fill.reason;
    result.map_err(|e| (reason, e.to_string()))?;
    let width = columns.header().len();
    record.pad(width);
    Ok(())
}

struct Fill<'a> {
    columns: &'a mut Columns,
    record: &'a mut RawRecord,
    path: String,
    depth: usize,
    guess: usize,
    reason: DamageReason,
}

impl Fill<'_> {
    fn fail<E: serde::de::Error>(&mut self, reason: DamageReason, what: &str) -> E {
        self.reason = reason;
        E::custom(what)
    }

    /// Sets the cell of the current path.
    fn cell<E: serde::de::Error>(
        &mut self,
        kind: CellKind,
        write: impl FnOnce(&mut String),
    ) -> Result<(), E> {
        if self.depth == 0 {
            return Err(self.fail(DamageReason::NotAnObject, "a record is an object"));
        }
        let Some(column) = self.columns.find(&self.path, self.guess) else {
            return Err(self.fail(
                DamageReason::InvalidJson,
                "more different names than an export has; are the records inside another object?",
            ));
        };
        self.guess = column + 1;
        if self.record.set_with(column, kind, write) {
            return Ok(());
        }
        let what = format!("the name {:?} is there twice", self.path);
        Err(self.fail(DamageReason::InvalidJson, &what))
    }

    fn float<E: serde::de::Error>(&mut self, value: f64) -> Result<f64, E> {
        if value.abs() < EXACT_BELOW {
            return Ok(value);
        }
        Err(self.fail(
            DamageReason::InexactNumber,
            "a number of more than 64 bits cannot be kept exactly",
        ))
    }
}

struct Value<'a, 'f>(&'f mut Fill<'a>);

impl<'de> DeserializeSeed<'de> for Value<'_, '_> {
    type Value = ();
    fn deserialize<D: serde::Deserializer<'de>>(self, d: D) -> Result<(), D::Error> {
        d.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Value<'_, '_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("an object")
    }

    fn visit_bool<E: serde::de::Error>(self, v: bool) -> Result<(), E> {
        self.0.cell(CellKind::Flag, |t| {
            t.push_str(if v { "true" } else { "false" })
        })
    }

    fn visit_i64<E: serde::de::Error>(self, v: i64) -> Result<(), E> {
        self.0.cell(CellKind::Number, |t| display(t, v))
    }

    fn visit_u64<E: serde::de::Error>(self, v: u64) -> Result<(), E> {
        self.0.cell(CellKind::Number, |t| display(t, v))
    }

    fn visit_f64<E: serde::de::Error>(self, v: f64) -> Result<(), E> {
        let v = self.0.float(v)?;
        self.0.cell(CellKind::Number, |t| display(t, v))
    }

    fn visit_str<E: serde::de::Error>(self, v: &str) -> Result<(), E> {
        self.0.cell(CellKind::Text, |t| t.push_str(v))
    }

    fn visit_unit<E: serde::de::Error>(self) -> Result<(), E> {
        self.0.cell(CellKind::Empty, |_| {})
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        let fill = self.0;
        let outer = fill.path.len();
        fill.depth += 1;
        loop {
            if fill.depth > 1 {
                fill.path.push('.');
            }
            if map.next_key_seed(Key(&mut fill.path))?.is_none() {
                break;
            }
            map.next_value_seed(Value(fill))?;
            fill.path.truncate(outer);
        }
        fill.depth -= 1;
        fill.path.truncate(outer);
        Ok(())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<(), A::Error> {
        let fill = self.0;
        if fill.depth == 0 {
            return Err(fill.fail(DamageReason::NotAnObject, "a record is an object"));
        }
        let outer = fill.path.len();
        let mut joined = String::new();
        let mut place = 1;
        loop {
            // Writing to a String cannot fail.
            let _ = write!(fill.path, ".{place}");
            let element = Element {
                fill,
                joined: &mut joined,
            };
            let more = seq.next_element_seed(element)?;
            fill.path.truncate(outer);
            if more.is_none() {
                break;
            }
            place += 1;
        }
        if joined.is_empty() {
            return Ok(());
        }
        fill.cell(CellKind::Text, |t| t.push_str(&joined))
    }
}

/// One element of a list: plain values are joined, others get columns of their own.
struct Element<'a, 'f, 'j> {
    fill: &'f mut Fill<'a>,
    joined: &'j mut String,
}

impl Element<'_, '_, '_> {
    fn join(self, value: impl fmt::Display) {
        if !self.joined.is_empty() {
            self.joined.push_str(", ");
        }
        display(self.joined, value);
    }
}

impl<'de> DeserializeSeed<'de> for Element<'_, '_, '_> {
    type Value = ();
    fn deserialize<D: serde::Deserializer<'de>>(self, d: D) -> Result<(), D::Error> {
        d.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Element<'_, '_, '_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a value")
    }

    fn visit_bool<E: serde::de::Error>(self, v: bool) -> Result<(), E> {
        self.join(v);
        Ok(())
    }

    fn visit_i64<E: serde::de::Error>(self, v: i64) -> Result<(), E> {
        self.join(v);
        Ok(())
    }

    fn visit_u64<E: serde::de::Error>(self, v: u64) -> Result<(), E> {
        self.join(v);
        Ok(())
    }

    fn visit_f64<E: serde::de::Error>(self, v: f64) -> Result<(), E> {
        let v = self.fill.float(v)?;
        self.join(v);
        Ok(())
    }

    fn visit_str<E: serde::de::Error>(self, v: &str) -> Result<(), E> {
        self.join(v);
        Ok(())
    }

    fn visit_unit<E: serde::de::Error>(self) -> Result<(), E> {
        Ok(())
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<(), A::Error> {
        Value(self.fill).visit_map(map)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, seq: A) -> Result<(), A::Error> {
        Value(self.fill).visit_seq(seq)
    }
}

/// Reads a name onto the end of the path.
struct Key<'p>(&'p mut String);

impl<'de> DeserializeSeed<'de> for Key<'_> {
    type Value = ();
    fn deserialize<D: serde::Deserializer<'de>>(self, d: D) -> Result<(), D::Error> {
        d.deserialize_str(self)
    }
}

impl Visitor<'_> for Key<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a name")
    }

    fn visit_str<E: serde::de::Error>(self, v: &str) -> Result<(), E> {
        self.0.push_str(v);
        Ok(())
    }
}

fn display(text: &mut String, value: impl fmt::Display) {
    // Writing to a String cannot fail.
    let _ = write!(text, "{value}");
}
