//! Values as SQL literals: typed and escaped in one place, in the form that every engine reads the same way.

use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};

/// A value bound to a `:parameter` of a statement.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Whole number.
    Int(i64),
    /// Finite number.
    Number(f64),
    /// Text.
    Text(String),
    /// Calendar day, comparable with Date32 columns.
    Day(Day),
    /// TRUE or FALSE.
    Flag(bool),
    /// The inside of `IN (:list)`; an empty list matches nothing.
    Texts(Vec<String>),
    /// The inside of `IN (:list)`; an empty list matches nothing.
    Ints(Vec<i64>),
    /// The name of a column, chosen from names in the code (never from input).
    Column(&'static str),
    /// One value for each repetition of an `-- each` block.
    Each(Vec<Value>),
}

impl Value {
    /// Text from anything text-like.
    pub fn text(text: impl Into<String>) -> Self {
        Value::Text(text.into())
    }

    /// The value as SQL text.
    pub(super) fn literal(&self) -> Result<String> {
        Ok(match self {
            Value::Int(n) => whole(*n),
            Value::Number(x) => number(*x)?,
            Value::Text(t) => quoted(t),
            // Days since 1970 cast to DATE: polars warns about reading days from text, and not every engine does it alike.
            Value::Day(d) => format!("CAST({} AS DATE)", d.0),
            Value::Flag(true) => "TRUE".into(),
            Value::Flag(false) => "FALSE".into(),
            Value::Texts(list) => listed(list.iter().map(|t| quoted(t))),
            Value::Ints(list) => listed(list.iter().map(|n| whole(*n))),
            Value::Column(name) => column(name)?,
            Value::Each(_) => {
                return Err(Problem::data(
                    "a value for each repetition is bound outside of its `-- each` block",
                ));
            }
        })
    }
}

/// Negative numbers stand in brackets, so that `a -:b` cannot turn into a comment.
fn whole(n: i64) -> String {
    match n {
        // Its digits alone are one more than the largest whole number.
        i64::MIN => "(-9223372036854775807 - 1)".into(),
        n if n < 0 => format!("({n})"),
        n => n.to_string(),
    }
}

/// Plain decimals: exponents are not read by every engine, and without a point the number would be whole.
fn number(x: f64) -> Result<String> {
    if !x.is_finite() {
        return Err(Problem::data("only finite numbers can be bound").value(x.to_string()));
    }
    let digits = x.to_string();
    let digits = if digits.contains('.') {
        digits
    } else {
        format!("{digits}.0")
    };
    Ok(if x.is_sign_negative() {
        format!("({digits})")
    } else {
        digits
    })
}

fn quoted(text: &str) -> String {
    format!("'{}'", text.replace('\'', "''"))
}

fn listed(items: impl Iterator<Item = String>) -> String {
    let list = items.collect::<Vec<_>>().join(", ");
    if list.is_empty() { "NULL".into() } else { list }
}

fn column(name: &str) -> Result<String> {
    let ok = name.starts_with(|c: char| c.is_ascii_lowercase())
        && name
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
    if ok {
        Ok(name.into())
    } else {
        Err(Problem::data("this is not the name of a column").value(name))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn literals_are_typed_and_escaped() {
        let literal = |v: Value| v.literal().unwrap();
        assert_eq!(literal(Value::Int(-5)), "(-5)");
        assert_eq!(literal(Value::Number(5.0)), "5.0");
        assert_eq!(literal(Value::Number(-0.25)), "(-0.25)");
        assert_eq!(literal(Value::Number(1e-7)), "0.0000001");
        assert_eq!(literal(Value::Number(1e21)), "1000000000000000000000.0");
        assert_eq!(literal(Value::text("it's; --")), "'it''s; --'");
        assert_eq!(literal(Value::Day(Day(-3))), "CAST(-3 AS DATE)");
        assert_eq!(literal(Value::Texts(vec![])), "NULL");
        assert_eq!(
            literal(Value::Texts(vec!["a".into(), "b'".into()])),
            "'a', 'b'''"
        );
        assert_eq!(literal(Value::Ints(vec![1, -2])), "1, (-2)");
        assert!(Value::Number(f64::NAN).literal().is_err());
        assert!(Value::Column("a b").literal().is_err());
        assert!(Value::Each(vec![]).literal().is_err());
    }
}
