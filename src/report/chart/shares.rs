//! Shares of causes as a forest plot, one for each group of the answer.

use super::forest::{Forest, Row, picture};
use super::picture::Picture;
use crate::answer::shares::types::{ShareGroup, Shares};

/// Causes shown at the most; the rest are named in one line.
const MOST: usize = 15;

/// The chart of one group.
pub fn chart(answer: &Shares, group: &ShareGroup, title: &str) -> Picture {
    let level = answer.question.level;
    let mut lines: Vec<String> = group
        .causes
        .first()
        .map(|first| {
            format!(
                "{} of {} confirmed failures: {}.",
                first.count, group.confirmed_cases, first.title
            )
        })
        .into_iter()
        .collect();
    lines.push(format!(
        "Of failures, not a rate; n = {} confirmed cases. Thick: {} intervals at {:.0} %, each cause alone; thin: all causes at once.",
        group.confirmed_cases,
        answer.question.method,
        100.0 * level
    ));
    if group.causes.len() > MOST {
        lines.push(format!(
            "The {} most frequent of {} causes.",
            MOST,
            group.causes.len()
        ));
    }
    picture(&Forest {
        title: title.to_string(),
        lines,
        unit: "share of confirmed failures".to_string(),
        counts_title: "cases".to_string(),
        reference: None,
        percent: true,
        rows: group
            .causes
            .iter()
            .take(MOST)
            .map(|c| Row {
                label: c.title.clone(),
                estimate: Some(c.share.clone()),
                wider: c.simultaneous.clone(),
                counts: c.count.to_string(),
                apart: false,
            })
            .collect(),
    })
}
