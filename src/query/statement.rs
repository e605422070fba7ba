//! The one list of statements: every file of `queries/`, found by name, bound and run.
//!
//! A statement is written once and runs on every engine. What binding does to its text is told in [`super::template`].

use std::path::Path;

use arrow::record_batch::RecordBatch;

use super::engine::{Engine, Purpose};
pub use super::literal::Value;
use super::template::{Parameters, expand};
use crate::domain::problem::{Problem, Result};

/// One file of `queries/`.
#[derive(Debug, Clone, Copy)]
pub struct Statement {
    /// File name without its ending.
    pub name: &'static str,
    /// The file's text.
    pub text: &'static str,
}

macro_rules! statements {
    ($($name:literal),* $(,)?) => {
        &[$(Statement {
            name: $name,
            text: include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/queries/", $name, ".sql")),
        }),*]
    };
}

/// Every statement, in alphabetical order.
pub const ALL: &[Statement] = statements![
    "budget_driven",
    "budget_jobs",
    "budget_repeats",
    "budget_units",
    "carries",
    "cases_by_cylinder",
    "cases_now",
    "chain_cases",
    "chains",
    "clocks",
    "comeback_counts",
    "confirmed_counts",
    "cylinder_counts",
    "doubled_cases",
    "episode_account",
    "episodes",
    "event_counts",
    "exposure",
    "exposure_vehicles",
    "failures",
    "findings_now",
    "last_days",
    "life_account",
    "life_failures",
    "life_repairs",
    "life_risk",
    "marked_cases",
    "observation_ends",
    "odd_vehicles",
    "odometer_checks",
    "pieces",
    "placed_cases",
    "quarantine_open",
    "readings",
    "repeat_costs",
    "repeat_events",
    "repeat_quiet",
    "repeat_windows",
    "repeated_records",
    "repeated_versions",
    "replaced_sets",
    "row_lines",
    "seen_vehicles",
    "sightings",
    "sites",
    "span_account",
    "spans",
    "step_account",
    "stretches",
    "superseded_findings",
    "superseded_rows",
    "test_accusations",
    "test_order_cases",
    "test_order_steps",
    "test_reading_counts",
    "test_readings",
    "tests_now",
    "unconfirmed_cases",
    "unconfirmed_counts",
    "vehicle_numbers",
    "vehicles",
    "versions",
    "visits_now",
];

/// The statement of that name, with its parameters replaced: SQL for [`Engine::query`] and [`Engine::write`].
pub fn bind(name: &str, parameters: &Parameters) -> Result<String> {
    let statement = ALL
        .iter()
        .find(|s| s.name == name)
        .ok_or_else(|| Problem::data("there is no statement of this name").value(name))?;
    expand(statement.text, parameters).map_err(|p| named(name, p))
}

/// Binds and runs a statement whose result is small; a problem names the statement.
pub fn query(engine: &mut dyn Engine, name: &str, parameters: &Parameters) -> Result<RecordBatch> {
    let sql = bind(name, parameters)?;
    engine.query(&sql).map_err(|p| named(name, p))
}

/// Binds a statement and writes its rows to a Parquet file; gives their number; a problem names the statement.
pub fn write(
    engine: &mut dyn Engine,
    name: &str,
    parameters: &Parameters,
    file: &Path,
    purpose: Purpose,
) -> Result<u64> {
    let sql = bind(name, parameters)?;
    engine
        .write(&sql, file, purpose)
        .map_err(|p| named(name, p))
}

fn named(name: &str, problem: Problem) -> Problem {
    problem.file(format!("queries/{name}.sql"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files() -> Vec<String> {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("queries");
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .map(|entries| {
                entries
                    .filter_map(|e| e.ok()?.file_name().into_string().ok())
                    .filter_map(|n| n.strip_suffix(".sql").map(String::from))
                    .collect()
            })
            .unwrap_or_default();
        names.sort();
        names
    }

    #[test]
    fn every_file_is_listed_once_in_order() {
        let listed: Vec<&str> = ALL.iter().map(|s| s.name).collect();
        assert_eq!(listed, files());
    }

    #[test]
    fn keys_are_cut_from_digests_where_they_were_put() {
        let contents = format!("digest % {}", crate::domain::version::CONTENTS);
        for name in ["repeated_records", "repeated_versions"] {
            let text = ALL.iter().find(|s| s.name == name).unwrap().text;
            assert_eq!(text.matches(&contents).count(), 3, "{name}");
            assert_eq!(text.matches("digest %").count(), 3, "{name}");
        }
    }

    #[test]
    fn every_file_tells_what_its_rows_mean() {
        for s in ALL {
            for word in ["-- Row:", "-- Key:", "-- Grain:"] {
                let told = s
                    .text
                    .lines()
                    .take_while(|l| l.starts_with("--"))
                    .any(|l| l.starts_with(word) && l.len() > word.len() + 3);
                assert!(
                    told,
                    "queries/{}.sql does not begin with `{word} ...`",
                    s.name
                );
            }
        }
    }

    /// SQL without comments, in one line, in capitals.
    fn bare(text: &str) -> String {
        let lines = text.lines().map(|l| l.split("--").next().unwrap_or(""));
        let words: Vec<&str> = lines.flat_map(str::split_whitespace).collect();
        words.join(" ").to_uppercase()
    }

    /// What follows each occurrence of `start`, up to the end of its clause.
    fn clauses<'a>(sql: &'a str, start: &str) -> Vec<&'a str> {
        let ends = [
            " JOIN ", " WHERE ", " GROUP ", " ORDER ", " UNION ", " LEFT ", " CROSS ", " SELECT ",
        ];
        sql.match_indices(start)
            .map(|(at, _)| {
                let rest = &sql[at + start.len()..];
                let end = ends.iter().filter_map(|e| rest.find(e)).min();
                &rest[..end.unwrap_or(rest.len())]
            })
            .collect()
    }

    /// What stands in the brackets of each OVER.
    fn windows(sql: &str) -> impl Iterator<Item = &str> {
        sql.match_indices("OVER (").map(|(at, start)| {
            let rest = &sql[at + start.len()..];
            let mut depth = 1i32;
            let end = rest.find(|c| {
                depth += i32::from(c == '(') - i32::from(c == ')');
                depth == 0
            });
            &rest[..end.unwrap_or(rest.len())]
        })
    }

    /// What stands before each division, in its brackets.
    fn divisions(sql: &str) -> impl Iterator<Item = &str> {
        let in_text = |at: usize| sql[..at].matches('\'').count() % 2 == 1;
        let all = sql
            .match_indices(" / ")
            .filter(move |(at, _)| !in_text(*at));
        all.map(|(at, _)| {
            let mut depth = 0i32;
            let begin = sql[..at].rfind(|c| {
                depth += i32::from(c == ')') - i32::from(c == '(');
                depth < 0 || (depth == 0 && c == ',')
            });
            &sql[begin.map_or(0, |b| b + 1)..at]
        })
    }

    /// Whether a FROM names more than one table.
    fn lists(clause: &str) -> bool {
        let own = clause.split([')', '(']).next().unwrap_or(clause);
        own.contains(',')
    }

    /// Names of the steps of a WITH.
    fn steps(sql: &str) -> impl Iterator<Item = &str> {
        sql.match_indices(" AS (").filter_map(|(at, _)| {
            let words: Vec<&str> = sql[..at].rsplitn(3, ' ').collect();
            let [name, before, ..] = words.as_slice() else {
                return None;
            };
            (*before == "WITH" || before.ends_with(',')).then_some(*name)
        })
    }

    /// Names that statements may be told to read.
    fn tables() -> impl Iterator<Item = &'static str> {
        use crate::domain::table::Table;
        let derived = ALL.iter().map(|s| s.name);
        Table::ALL.iter().map(|t| t.name()).chain(derived)
    }

    fn trouble(text: &str) -> Option<&'static str> {
        let sql = bare(text);
        let outer = [
            "LEFT JOIN ",
            "FULL JOIN ",
            "LEFT OUTER JOIN ",
            "FULL OUTER JOIN ",
        ];
        if outer
            .iter()
            .flat_map(|j| clauses(&sql, j))
            .any(|c| c.contains('<') || c.contains('>'))
        {
            return Some("an outer join by inequality loses its unmatched rows in polars");
        }
        if sql.contains("DATE '") || sql.contains("//") || sql.contains("QUALIFY") {
            return Some("not read alike by every engine: DATE '...', // and QUALIFY");
        }
        if sql.contains("ROUND(") {
            return Some(
                "ROUND takes halves to the even number in polars, away from zero elsewhere",
            );
        }
        if divisions(&sql).any(|before| !before.contains(" AS DOUBLE)")) {
            return Some("whole numbers are divided differently: CAST one AS DOUBLE first");
        }
        if clauses(&sql, " FROM ").iter().any(|c| lists(c)) {
            return Some("a cluster finds its tables after FROM and JOIN, not behind a comma");
        }
        if steps(&sql).any(|s| tables().any(|t| t.to_uppercase() == s)) {
            return Some("a step with the name of a table hides it on a cluster");
        }
        if windows(&sql).any(|w| w.contains("NULLS")) {
            return Some("polars does not honour NULLS FIRST/LAST inside a window");
        }
        let mut depth = 0i32;
        let ordered = sql.char_indices().any(|(at, c)| {
            depth += i32::from(c == '(') - i32::from(c == ')');
            depth == 0 && sql[at..].starts_with("ORDER BY")
        });
        if !ordered && !text.contains("-- Order: ") {
            return Some(
                "without a last ORDER BY (or a line `-- Order: why none`) rows come in any order",
            );
        }
        None
    }

    #[test]
    fn no_file_uses_what_engines_do_differently() {
        for s in ALL {
            assert_eq!(trouble(s.text), None, "queries/{}.sql", s.name);
        }
    }

    #[test]
    fn the_check_finds_what_it_looks_for() {
        assert_eq!(trouble("SELECT a FROM t ORDER BY a"), None);
        assert!(trouble("SELECT a FROM t").is_some());
        assert!(trouble("SELECT a FROM (SELECT a FROM t ORDER BY a) AS u").is_some());
        assert!(
            trouble("SELECT a FROM t\nLEFT JOIN u ON t.a = u.a AND t.b < u.b ORDER BY a").is_some()
        );
        assert!(trouble("SELECT a FROM t WHERE d > DATE '2020-01-01' ORDER BY a").is_some());
        let wrong = |text: &str| trouble(&format!("{text} ORDER BY a")).is_some();
        assert!(wrong("SELECT ROUND(a) AS a FROM t"));
        assert!(wrong(
            "SELECT CAST(a AS DOUBLE) AS x, (a + 1) / 2 AS a FROM t"
        ));
        assert!(!wrong(
            "SELECT FLOOR(CAST(a AS DOUBLE) * (b - 1) / NULLIF(c, 0)) AS a FROM t"
        ));
        assert!(!wrong("SELECT SPLIT_PART(a, ' / ', 1) AS a FROM t"));
        assert!(wrong("SELECT a FROM t, u"));
        assert!(!wrong("SELECT a FROM (SELECT a, b FROM t) AS u"));
        assert!(wrong(
            "WITH x AS (SELECT 1 AS a), visits AS (SELECT a FROM x) SELECT a FROM visits"
        ));
        assert!(!wrong("WITH x AS (SELECT a FROM visits) SELECT a FROM x"));
        assert!(
            trouble("SELECT LAG(a) OVER (PARTITION BY b ORDER BY c NULLS LAST) FROM t ORDER BY a")
                .is_some()
        );
    }

    #[test]
    fn an_unknown_name_is_an_error() {
        assert!(bind("no_such_statement", &[]).is_err());
    }
}
