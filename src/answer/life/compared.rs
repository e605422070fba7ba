//! Whether groups fail alike, in plain words.

use super::types::comparison::most;
use super::types::{CauseComparison, ComparedGroup, Comparison, Life};
use crate::answer::words;
use crate::stats::multiple::rejects;

/// Causes that are named one by one.
const MOST: usize = 3;

/// The sentences of one comparison.
pub fn lines(life: &Life, c: &Comparison) -> Vec<String> {
    let within = if c.within.is_empty() {
        String::new()
    } else {
        format!(" within {}", c.within.join(" and ").replace('_', " "))
    };
    let mut lines = vec![all_causes(life, c, &within)];
    lines.extend(by_cause(life, c, &within));
    lines
}

fn all_causes(life: &Life, c: &Comparison, within: &str) -> String {
    let what = life.what_of(&c.what);
    let Some(p) = c.p else {
        return format!(
            "{what}: the groups were never at risk at the same distance{within}, so they cannot be compared."
        );
    };
    let p_text = p_text(p);
    if p <= 1.0 - life.question.level {
        let worst = most(&c.groups).map_or(String::new(), |g| format!("; {}", against(g)));
        format!(
            "The groups differ in {what} more than chance would often give{within} (log-rank {p_text}){worst}."
        )
    } else {
        format!("No difference between the groups in {what} is shown{within} (log-rank {p_text}).")
    }
}

/// In which causes the groups differ; nothing where causes do not compete.
fn by_cause(life: &Life, c: &Comparison, within: &str) -> Option<String> {
    let outside = 1.0 - life.question.level;
    let p = |cause: &CauseComparison| cause.p_adjusted.unwrap_or(1.0);
    let mut differ: Vec<&CauseComparison> = c
        .causes
        .iter()
        .filter(|cause| rejects(p(cause), outside))
        .collect();
    if c.causes.is_empty() {
        return None;
    }
    differ.sort_by(|a, b| p(a).total_cmp(&p(b)));
    let tested = format!(
        "Gray's test, p adjusted for {}",
        words::count(c.causes.len() as u64, "cause")
    );
    if differ.is_empty() {
        return Some(format!(
            "Cause by cause, no difference in the share that fails first is shown{within} ({tested})."
        ));
    }
    let named = differ.iter().take(MOST).map(|cause| {
        let worst = cause.most().map_or(String::new(), against);
        format!("{} ({}; {worst})", cause.title, p_text(p(cause)))
    });
    let more = match differ.len().checked_sub(MOST) {
        Some(n) if n > 0 => format!(", and {}", words::count(n as u64, "other cause")),
        _ => String::new(),
    };
    Some(format!(
        "The share that fails first differs{within} in {}{more} ({tested}).",
        named.collect::<Vec<_>>().join(", ")
    ))
}

/// `alder failed most: 12 against 5.1 expected if all were alike`.
fn against(group: &ComparedGroup) -> String {
    format!(
        "{} failed most: {:.0} against {} expected if all were alike",
        group.key.title(),
        group.observed,
        words::number(group.expected)
    )
}

fn p_text(p: f64) -> String {
    if p < 0.0001 {
        "p < 0.0001".to_string()
    } else {
        format!("p = {p:.4}")
    }
}
