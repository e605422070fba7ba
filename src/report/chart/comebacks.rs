//! Shares of repairs that came back, as a forest plot.

use super::forest::{Forest, Row, picture};
use super::picture::Picture;
use crate::answer::repeats::types::{Comeback, Repeats};

/// Repairs shown at the most.
const MOST: usize = 12;

/// The chart, most frequent repairs first; none where no repair can be judged yet.
pub fn chart(answer: &Repeats, title: &str) -> Option<Picture> {
    let judged: Vec<&Comeback> = answer
        .comebacks
        .iter()
        .filter(|c| c.share.is_some())
        .collect();
    let (all, back) = judged.iter().fold((0, 0), |(all, back), c| {
        (all + c.repairs, back + c.came_back)
    });
    if judged.is_empty() {
        return None;
    }
    let mut lines = vec![format!(
        "{back} of {all} repairs came back as the same failure within {} days and {} km.",
        answer.question.window_days,
        answer.question.window_m / 1000
    )];
    let mut basis = format!(
        "Share of repairs of each kind; {} intervals at {:.0} %.",
        answer.question.method,
        100.0 * answer.question.level
    );
    if judged.len() > MOST {
        basis += &format!(" The {MOST} most frequent of {}.", judged.len());
    }
    lines.push(basis);
    Some(picture(&Forest {
        title: title.to_string(),
        lines,
        unit: "share of repairs that came back".to_string(),
        counts_title: "came back".to_string(),
        reference: None,
        percent: true,
        rows: judged
            .into_iter()
            .take(MOST)
            .map(|c| Row {
                label: match c.key.0.is_empty() {
                    true => c.title.clone(),
                    false => format!("{}, {}", c.key.title(), c.title),
                },
                estimate: c.share.clone(),
                wider: None,
                counts: format!("{} of {}", c.came_back, c.repairs),
                apart: false,
            })
            .collect(),
    }))
}
