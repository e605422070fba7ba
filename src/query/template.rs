//! From the text of a statement to SQL that an engine runs: comments out, `-- each` blocks repeated, `:parameters` replaced.
//!
//! Statements stay readable SQL files: a parameter is `:name`, and a block that is needed once for each of several
//! values (band edges, columns to group by) stands between two comment lines and starts with its comma:
//!
//! ```sql
//! SELECT engine_family
//! -- each edge
//!      , SUM(LEAST(left_m, :edge)) AS below_:i
//! -- end
//! FROM spans
//! GROUP BY engine_family
//! ```
//!
//! Inside, `:edge` is the value of the repetition and `:i` its number from 0. `-- each edge joined by UNION ALL` writes
//! the words between the repetitions. No value, no block.

use std::collections::BTreeSet;

use super::literal::Value;
use crate::domain::problem::{Problem, Result};

/// Parameters by name.
pub type Parameters<'a> = [(&'a str, Value)];

/// Expands `text`; a parameter that is missing, unused or of the wrong kind is an error.
pub fn expand(text: &str, parameters: &Parameters) -> Result<String> {
    let mut used = BTreeSet::new();
    let mut out = String::with_capacity(text.len());
    let mut lines = text.lines().enumerate();
    while let Some((at, line)) = lines.next() {
        let Some((name, joined_by)) = block_start(line) else {
            replace(line, parameters, &[], &mut used, &mut out)
                .map_err(|p| p.line(at as u64 + 1))?;
            continue;
        };
        let mut body = Vec::new();
        loop {
            match lines.next() {
                Some((_, line)) if line.trim() == "-- end" => break,
                Some((_, line)) => body.push(line),
                None => {
                    return Err(Problem::data(format!(
                        "the block `-- each {name}` has no `-- end`"
                    ))
                    .line(at as u64 + 1));
                }
            }
        }
        repeat(name, joined_by, &body, parameters, &mut used, &mut out)
            .map_err(|p| p.line(at as u64 + 1))?;
    }
    match parameters.iter().find(|(name, _)| !used.contains(name)) {
        Some((name, _)) => Err(Problem::data("the statement has no such parameter").field(*name)),
        None => Ok(out),
    }
}

fn block_start(line: &str) -> Option<(&str, &str)> {
    let rest = line.trim().strip_prefix("-- each ")?;
    Some(match rest.split_once(" joined by ") {
        Some((name, words)) => (name.trim(), words.trim()),
        None => (rest.trim(), ""),
    })
}

fn repeat<'a>(
    name: &str,
    joined_by: &str,
    body: &[&str],
    parameters: &Parameters<'a>,
    used: &mut BTreeSet<&'a str>,
    out: &mut String,
) -> Result<()> {
    let values = match parameters.iter().find(|(n, _)| *n == name) {
        Some((n, Value::Each(values))) => {
            used.insert(n);
            values
        }
        Some(_) => {
            return Err(
                Problem::data("this parameter is repeated and needs a list of values").field(name),
            );
        }
        None => return Err(Problem::data("a parameter has no value").field(name)),
    };
    for (i, value) in values.iter().enumerate() {
        if i > 0 && !joined_by.is_empty() {
            out.push_str(joined_by);
            out.push('\n');
        }
        let number = i.to_string();
        let own = [(name, value.literal()?), ("i", number)];
        for line in body {
            replace(line, parameters, &own, used, out)?;
        }
    }
    Ok(())
}

/// Writes one line with its parameters replaced and its comment left out; `own` belongs to the block's repetition.
fn replace<'a>(
    line: &str,
    parameters: &Parameters<'a>,
    own: &[(&str, String)],
    used: &mut BTreeSet<&'a str>,
    out: &mut String,
) -> Result<()> {
    let start = out.len();
    let mut rest = line;
    let mut in_text = false;
    while let Some(c) = rest.chars().next() {
        let after = &rest[c.len_utf8()..];
        if c == '\'' {
            in_text = !in_text;
        }
        if !in_text && c == '-' && after.starts_with('-') {
            break;
        }
        let name_len = match c {
            ':' if !in_text => name_length(after),
            _ => 0,
        };
        if name_len == 0 {
            out.push(c);
            rest = after;
            continue;
        }
        let (name, after) = after.split_at(name_len);
        out.push_str(&value_of(name, parameters, own, used)?);
        rest = after;
    }
    if !out[start..].trim().is_empty() {
        out.push('\n');
    } else {
        out.truncate(start);
    }
    Ok(())
}

/// Bytes of the parameter name at the start of `text`; 0 when there is none.
fn name_length(text: &str) -> usize {
    if !text.starts_with(|c: char| c.is_ascii_lowercase()) {
        return 0;
    }
    text.find(|c: char| !(c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_'))
        .unwrap_or(text.len())
}

fn value_of<'a>(
    name: &str,
    parameters: &Parameters<'a>,
    own: &[(&str, String)],
    used: &mut BTreeSet<&'a str>,
) -> Result<String> {
    if let Some((_, literal)) = own.iter().find(|(n, _)| *n == name) {
        return Ok(literal.clone());
    }
    match parameters.iter().find(|(n, _)| *n == name) {
        Some((n, value)) => {
            used.insert(n);
            value.literal().map_err(|p| p.field(name))
        }
        None => Err(Problem::data("a parameter has no value").field(name)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn replaces_parameters_outside_of_text_and_comments() {
        let text = "-- a note on :nothing\nSELECT ':x' AS t, :x AS x -- and :more\nFROM a WHERE b = :name_2\n";
        let sql = expand(
            text,
            &[("x", Value::Int(3)), ("name_2", Value::text("o'k"))],
        )
        .unwrap();
        assert_eq!(sql, "SELECT ':x' AS t, 3 AS x \nFROM a WHERE b = 'o''k'\n");
    }

    #[test]
    fn repeats_blocks() {
        let text = "SELECT a\n-- each edge\n  , LEAST(b, :edge) + :c AS e_:i\n-- end\nFROM t\n";
        let edges = Value::Each(vec![Value::Int(0), Value::Int(80)]);
        let sql = expand(text, &[("edge", edges), ("c", Value::Int(1))]).unwrap();
        assert_eq!(
            sql,
            "SELECT a\n  , LEAST(b, 0) + 1 AS e_0\n  , LEAST(b, 80) + 1 AS e_1\nFROM t\n"
        );
        let joined = "-- each k joined by UNION ALL\nSELECT :k FROM t\n-- end\n";
        let names = Value::Each(vec![Value::Column("a"), Value::Column("b")]);
        assert_eq!(
            expand(joined, &[("k", names)]).unwrap(),
            "SELECT a FROM t\nUNION ALL\nSELECT b FROM t\n"
        );
        assert_eq!(expand(joined, &[("k", Value::Each(vec![]))]).unwrap(), "");
    }

    #[test]
    fn refuses_missing_unused_and_misplaced_parameters() {
        assert!(expand("SELECT :a", &[]).is_err());
        assert!(expand("SELECT 1", &[("a", Value::Int(1))]).is_err());
        assert!(expand("SELECT :a", &[("a", Value::Each(vec![]))]).is_err());
        assert!(expand("-- each a\nx\n-- end", &[("a", Value::Int(1))]).is_err());
        assert!(expand("-- each a\nx", &[("a", Value::Each(vec![]))]).is_err());
    }
}
