//! How many repairs: the probability of each number, with the middle 80 % set apart.

use super::axis::{Scale, end_for, tick_text};
use super::ink;
use super::picture::{Anchor, Picture};
use crate::answer::budget::Budget;
use crate::answer::words;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 880.0;
const HIGH: f64 = 240.0;
/// Bars drawn at the most; the tails beyond hold less than one in ten thousand.
const MOST: u64 = 120;

/// The chart.
pub fn chart(answer: &Budget, title: &str, exercise: bool) -> Picture {
    let count = &answer.total.count;
    let (low, high) = range(answer, 0.8);
    let mut lines = Vec::new();
    if !exercise {
        lines.extend(answer.verdict.first().cloned());
    }
    lines.push(format!(
        "Dark: the middle 80 % of what may happen. {} failures of {} vehicles behind it; chance and what few records leave open are both in it.",
        answer.evidence.events, answer.evidence.vehicles
    ));
    let mut p = Picture::titled(WIDTH, title, &lines);
    let top = p.heading(title, &lines) + 16.0;
    let bottom = top + HIGH;
    let (first, last) = shown(&answer.count_distribution);
    let along = Scale::new(first as f64 - 0.5, last as f64 + 0.5, LEFT, RIGHT);
    let highest = answer
        .count_distribution
        .iter()
        .copied()
        .fold(0.0, f64::max);
    let up = Scale::new(0.0, end_for(highest, 4), bottom, top);
    for tick in up.ticks(4) {
        let y = up.at(tick);
        p.line((LEFT, y), (RIGHT, y), ink::GRID, 1.0);
        let text = format!("{} %", tick_text(100.0 * tick));
        p.text((LEFT - 6.0, y), text, 12.0, Anchor::End, ink::QUIET);
    }
    let wide = (RIGHT - LEFT) / (last - first + 1) as f64;
    for (n, probability) in (0u64..).zip(&answer.count_distribution) {
        if n < first || n > last {
            continue;
        }
        let at = n as f64;
        let inside = low <= at && at <= high;
        let y = up.at(*probability);
        let bar = wide * 0.8;
        let ink = if inside { ink::MAIN } else { ink::BEHIND };
        p.filled((along.at(at) - bar / 2.0, y), (bar, bottom - y), ink);
    }
    p.line((LEFT, bottom), (RIGHT, bottom), ink::TEXT, 1.0);
    let step = ((last - first) / 12).max(1);
    for n in (first..=last).step_by(step as usize) {
        p.text(
            (along.at(n as f64), bottom + 14.0),
            n.to_string(),
            12.0,
            Anchor::Middle,
            ink::QUIET,
        );
    }
    let x = along.at(count.expected);
    p.dashed((x, top - 6.0), (x, bottom), ink::APART, 1.5);
    p.text(
        (x + 6.0, top - 4.0),
        format!("expected {}", words::number(count.expected)),
        13.0,
        Anchor::Start,
        ink::APART,
    );
    p.text(
        (WIDTH / 2.0, bottom + 34.0),
        format!("repairs within {} months", answer.question.months),
        13.0,
        Anchor::Middle,
        ink::TEXT,
    );
    p.height = bottom + 50.0;
    p
}

/// Both ends of a range.
fn range(answer: &Budget, level: f64) -> (f64, f64) {
    let ranges = &answer.total.count.ranges;
    let found = ranges.iter().find(|r| r.level == level);
    found.map_or((0.0, 0.0), |r| (r.lower, r.upper))
}

/// The numbers drawn: all that have a chance of one in ten thousand, and at least 0 to 4.
fn shown(distribution: &[f64]) -> (u64, u64) {
    let visible = |p: &f64| *p >= 1e-4;
    let first = distribution.iter().position(visible).unwrap_or(0) as u64;
    let last = distribution.iter().rposition(visible).unwrap_or(0) as u64;
    let first = if last < 30 { 0 } else { first };
    (first, last.clamp(first + 4, first + MOST))
}

#[cfg(test)]
mod tests {
    use super::shown;

    #[test]
    fn small_counts_begin_at_none() {
        assert_eq!(shown(&[0.9, 0.1]), (0, 4));
        let mut far = vec![0.0; 40];
        far.extend([0.5, 0.5]);
        assert_eq!(shown(&far), (40, 44));
    }
}
