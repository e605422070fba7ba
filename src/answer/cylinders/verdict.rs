//! The cylinder answer in plain words.

use super::types::{Cylinders, Finding};
use crate::answer::words;

/// One line that says whether the cylinders differ, and one each for unknowns and what is still needed.
pub fn verdict(answer: &Cylinders) -> Vec<String> {
    let known: u64 = answer.cylinders.iter().map(|c| c.count).sum();
    if known == 0 {
        return vec!["No case names a cylinder, so they cannot be compared.".to_string()];
    }
    let mut lines = vec![main_line(answer, known)];
    if let (Finding::Differ, Some(p)) = (answer.finding, answer.p_unknown_against) {
        lines.push(if p <= 1.0 - answer.question.level {
            format!(
                "It holds even if {} of unknown cylinder fell on the cylinders with fewest.",
                words::count(answer.unknown, "case")
            )
        } else {
            format!(
                "But {} cases do not name the cylinder; if they were on the cylinders with fewest, chance could explain \
                 the rest.",
                answer.unknown
            )
        });
    }
    if let Some(needed) = &answer.still_needed {
        lines.push(format!(
            "About {} more cases would settle {} (with probability {:.0} %).",
            needed.more_cases,
            needed.settles,
            100.0 * needed.power
        ));
    }
    lines
}

fn main_line(answer: &Cylinders, known: u64) -> String {
    let top = answer
        .cylinders
        .iter()
        .max_by(|a, b| a.count.cmp(&b.count).then(b.cylinder.cmp(&a.cylinder)));
    let Some(top) = top else {
        return "This engine family has no cylinders on file.".to_string();
    };
    let p = answer.test.as_ref().map_or(1.0, |t| t.p);
    let p = if p < 0.0001 {
        "p < 0.0001".to_string()
    } else {
        format!("p = {p:.4}")
    };
    let share = format!(
        "{} of {} on cylinder {} ({:.0} %: {} to {})",
        top.count,
        words::count(known, "case"),
        top.cylinder,
        100.0 * top.share.value,
        words::percent(top.share.lower),
        words::percent(top.share.upper.unwrap_or(1.0)),
    );
    match answer.finding {
        Finding::Differ => {
            let differing: Vec<String> = answer
                .pairs
                .iter()
                .filter(|p| p.differ && (p.a == top.cylinder || p.b == top.cylinder))
                .map(|p| if p.a == top.cylinder { p.b } else { p.a }.to_string())
                .collect();
            let apart = if differing.is_empty() {
                String::new()
            } else {
                format!("; it stands apart from cylinder {}", differing.join(", "))
            };
            format!("The cylinders differ more than chance would often give ({p}): {share}{apart}.")
        }
        Finding::NoDifferenceSeen => {
            format!(
                "No difference between cylinders is seen ({p}), and one that matters would probably show: {share}."
            )
        }
        Finding::TooFew => format!("Cannot tell yet whether the cylinders differ ({p}): {share}."),
    }
}
