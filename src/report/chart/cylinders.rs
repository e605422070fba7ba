//! Shares by cylinder with intervals that hold for all at once, the line of equal shares, the unknown bar and the verdict.

use super::axis::{Scale, end_for, tick_text};
use super::ink;
use super::picture::{Anchor, Mark, Picture};
use crate::answer::cylinders::types::{Cylinders, Finding};

const WIDTH: f64 = 900.0;
const LEFT: f64 = 80.0;
const RIGHT: f64 = 880.0;
const HIGH: f64 = 270.0;

/// The chart of one family and cause; `exercise` leaves the verdict out, for students to find.
pub fn chart(answer: &Cylinders, exercise: bool) -> Picture {
    let title = format!(
        "Which cylinder fails most? {}, {}",
        answer.family_title,
        answer.cause_words()
    );
    let known: u64 = answer.cylinders.iter().map(|c| c.count).sum();
    let mut lines = if exercise {
        Vec::new()
    } else {
        answer.verdict.clone()
    };
    lines.push(format!(
        "n = {known} cases, one a vehicle{}; {} intervals at {:.0} % for all cylinders at once.",
        period(answer),
        answer.question.method,
        100.0 * answer.question.level
    ));
    let mut p = Picture::titled(WIDTH, &title, &lines);
    let top = p.heading(&title, &lines) + 12.0;
    let bottom = top + HIGH;
    let all = known + answer.unknown;
    let unknown_share = if all == 0 {
        0.0
    } else {
        answer.unknown as f64 / all as f64
    };
    let highest = answer
        .cylinders
        .iter()
        .filter_map(|c| c.share.upper)
        .fold(unknown_share, f64::max);
    let scale = Scale::new(0.0, end_for(highest, 5).min(1.0), bottom, top);
    for tick in scale.ticks(5) {
        let y = scale.at(tick);
        p.line((LEFT, y), (RIGHT, y), ink::GRID, 1.0);
        p.text(
            (LEFT - 8.0, y),
            format!("{} %", tick_text(100.0 * tick)),
            12.0,
            Anchor::End,
            ink::QUIET,
        );
    }
    let slots = answer.cylinders.len() + 1;
    let step = (RIGHT - LEFT) / slots as f64;
    let wide = (0.5 * step).min(80.0);
    for (i, row) in answer.cylinders.iter().enumerate() {
        let x = LEFT + step * (i as f64 + 0.5);
        let colour = if !exercise && stands_apart(answer, row.cylinder) {
            ink::APART
        } else {
            ink::MAIN
        };
        let y = scale.at(row.share.value);
        p.filled((x - wide / 2.0, y), (wide, bottom - y), colour);
        if known > 0 {
            whisker(
                &mut p,
                x,
                scale.at(row.share.lower),
                scale.at(row.share.upper.unwrap_or(1.0)),
            );
        }
        p.text(
            (x, bottom + 15.0),
            format!("cylinder {}", row.cylinder),
            13.0,
            Anchor::Middle,
            ink::TEXT,
        );
        p.text(
            (x, bottom + 32.0),
            format!("n = {}", row.count),
            12.0,
            Anchor::Middle,
            ink::QUIET,
        );
    }
    unknown_bar(
        &mut p,
        answer,
        unknown_share,
        &scale,
        LEFT + step * (slots as f64 - 0.5),
        wide,
        bottom,
    );
    if !answer.cylinders.is_empty() {
        let y = scale.at(1.0 / answer.cylinders.len() as f64);
        p.dashed((LEFT, y), (RIGHT - step, y), ink::TEXT, 1.2);
        p.text(
            (RIGHT - step + 4.0, y),
            "equal shares",
            12.0,
            Anchor::Start,
            ink::TEXT,
        );
    }
    p.text(
        ((LEFT + RIGHT) / 2.0, bottom + 56.0),
        "share of cases that name their cylinder",
        13.0,
        Anchor::Middle,
        ink::TEXT,
    );
    p.height = bottom + 76.0;
    p
}

fn period(answer: &Cylinders) -> String {
    match (answer.evidence.first_date, answer.evidence.last_date) {
        (Some(first), Some(last)) => format!(", {first} to {last}"),
        _ => String::new(),
    }
}

/// The cylinder with most cases stands apart when the shares differ and it is in a pair that does.
fn stands_apart(answer: &Cylinders, cylinder: u8) -> bool {
    let most = answer.cylinders.iter().map(|c| c.count).max().unwrap_or(0);
    answer.finding == Finding::Differ
        && answer
            .cylinders
            .iter()
            .any(|c| c.cylinder == cylinder && c.count == most)
        && answer
            .pairs
            .iter()
            .any(|p| p.differ && (p.a == cylinder || p.b == cylinder))
}

fn whisker(p: &mut Picture, x: f64, low: f64, high: f64) {
    p.line((x, low), (x, high), ink::TEXT, 1.6);
    for y in [low, high] {
        p.line((x - 5.0, y), (x + 5.0, y), ink::TEXT, 1.6);
    }
}

fn unknown_bar(
    p: &mut Picture,
    answer: &Cylinders,
    share: f64,
    scale: &Scale,
    x: f64,
    wide: f64,
    bottom: f64,
) {
    let y = scale.at(share);
    if answer.unknown > 0 {
        p.marks.push(Mark::Hatched {
            at: (x - wide / 2.0, y),
            size: (wide, bottom - y),
            ink: ink::UNKNOWN,
        });
    }
    p.text(
        (x, bottom + 15.0),
        "unknown",
        13.0,
        Anchor::Middle,
        ink::TEXT,
    );
    p.text(
        (x, bottom + 32.0),
        format!("n = {} (of all)", answer.unknown),
        12.0,
        Anchor::Middle,
        ink::QUIET,
    );
}
