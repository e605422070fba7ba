//! A plan of tests as a tree that reads like a list: each line hangs on the result that leads to it.

use super::ink::{BEHIND, MAIN, QUIET, TEXT};
use super::lettering::text_width;
use super::picture::{Anchor, Picture};
use crate::answer::test_order::TestOrder;
use crate::answer::test_order::types::PlanLine;
use crate::answer::words;

const WIDTH: f64 = 1000.0;
const ROW: f64 = 34.0;
const INDENT: f64 = 24.0;
/// Where the columns on the right end: how often, minutes, minutes ahead.
const COLUMNS: [f64; 3] = [832.0, 902.0, 984.0];
/// Lines shown at the most; the list and the JSON hold the rest.
const MOST: usize = 24;
/// Points reached less often are left out of the picture.
const RARE: f64 = 0.03;

/// The picture of a plan.
pub fn chart(answer: &TestOrder, exercise: bool) -> Picture {
    let shown = shown(&answer.steps);
    let mut picture = Picture::new(
        WIDTH,
        150.0 + ROW * shown.len() as f64,
        format!("The order of tests for {}, as a tree.", answer.family_title),
    );
    let mut lines = Vec::new();
    if !exercise {
        lines.extend(answer.verdict.first().cloned());
    }
    lines.push(format!(
        "{:.0} minutes on average for tests and wrong repairs; {}.",
        answer.minutes,
        answer.rests_on()
    ));
    let title = format!("Misfire on {}: which test first?", answer.family_title);
    let mut y = picture.heading(&title, &lines) + 14.0;
    for (x, title) in COLUMNS
        .into_iter()
        .zip(["comes here", "minutes", "min ahead"])
    {
        picture.text((x, y), title, 11.0, Anchor::End, QUIET);
    }
    y += 26.0;
    let mut places: Vec<(u64, f64, f64)> = Vec::new();
    for line in shown {
        let parent = places.iter().find(|p| Some(p.0) == line.after).copied();
        let x = parent.map_or(12.0, |p| p.1 + INDENT);
        if let Some((_, px, py)) = parent {
            picture.line((px + 6.0, py + 12.0), (px + 6.0, y), BEHIND, 1.5);
            picture.line((px + 6.0, y), (x - 4.0, y), BEHIND, 1.5);
        }
        row(&mut picture, line, x, y);
        places.push((line.number, x, y));
        y += ROW;
    }
    picture.height = y + 8.0;
    picture
}

fn shown(steps: &[PlanLine]) -> Vec<&PlanLine> {
    let mut often: Vec<&PlanLine> = steps.iter().filter(|l| l.reached >= RARE).collect();
    often.sort_by(|a, b| {
        b.reached
            .total_cmp(&a.reached)
            .then(a.number.cmp(&b.number))
    });
    often.truncate(MOST);
    often.sort_by_key(|l| l.number);
    often
}

fn row(picture: &mut Picture, line: &PlanLine, x: f64, y: f64) {
    let mut at = x;
    if let Some(when) = &line.when {
        let label = format!("{when}: ");
        picture.text((at, y - 7.0), label.clone(), 12.0, Anchor::Start, QUIET);
        at += text_width(&label, 12.0);
    }
    let instruction = fitted(&line.instruction, 12.5, COLUMNS[0] - 80.0 - at);
    match line.minutes {
        Some(_) => picture.bold((at, y - 7.0), instruction, 12.5, Anchor::Start, TEXT),
        None => picture.text((at, y - 7.0), instruction, 12.5, Anchor::Start, MAIN),
    }
    let likely: Vec<String> = line
        .likely
        .iter()
        .map(|l| format!("{} {}", l.title, words::percent(l.probability)))
        .collect();
    let likely = fitted(&likely.join(", "), 10.5, COLUMNS[0] - 80.0 - x);
    picture.text((x, y + 8.0), likely, 10.5, Anchor::Start, QUIET);
    let reached = words::percent(line.reached);
    picture.text((COLUMNS[0], y - 7.0), reached, 12.0, Anchor::End, TEXT);
    if let Some(minutes) = line.minutes {
        picture.text(
            (COLUMNS[1], y - 7.0),
            format!("{minutes:.0}"),
            12.0,
            Anchor::End,
            TEXT,
        );
    }
    let ahead = format!("{:.0}", line.ahead);
    picture.text((COLUMNS[2], y - 7.0), ahead, 12.0, Anchor::End, TEXT);
}

/// As much of a text as fits, with an ellipsis where something is left off.
fn fitted(text: &str, size: f64, width: f64) -> String {
    if text_width(text, size) <= width {
        return text.to_string();
    }
    let mut kept: String = text.to_string();
    while !kept.is_empty() && text_width(&kept, size) > width - size {
        kept.pop();
    }
    format!("{}…", kept.trim_end())
}
