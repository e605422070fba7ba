//! What repairs cost, month by month added up: the expected line in a fan of what may happen, and the reserve.

use super::axis::{Scale, end_for};
use super::ink::{self, Ink};
use super::picture::{Anchor, Mark, Picture};
use crate::answer::budget::Budget;
use crate::answer::budget::types::{Expected, MonthOutlook};
use crate::answer::budget::verdict::amount;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 92.0;
const RIGHT: f64 = 770.0;
const HIGH: f64 = 270.0;
/// Fills of the 95, 80 and 50 % ranges, from light to dark, so that grey print keeps their order.
const FILLS: [(f64, Ink); 3] = [
    (0.95, (225, 234, 241)),
    (0.8, (190, 205, 216)),
    (0.5, (140, 170, 194)),
];

/// The chart; none where no cost is known.
pub fn chart(answer: &Budget, title: &str, exercise: bool) -> Option<Picture> {
    let months: Vec<(&MonthOutlook, &Expected)> = answer
        .months
        .iter()
        .filter_map(|m| Some((m, m.cost_so_far.as_ref()?)))
        .collect();
    let (_, year) = months.last()?;
    let reserve = answer.total.reserve.as_ref()?;
    let mut lines = Vec::new();
    if !exercise {
        lines.extend(answer.verdict.get(1).cloned());
    }
    let costed: u64 = answer.families.iter().map(|f| f.costed_repairs).sum();
    lines.push(format!(
        "Fan: 50, 80 and 95 % of what may happen, from dark to light; line: expected. {} recorded costs behind it, in {}.",
        costed,
        answer.question.money()
    ));
    let mut p = Picture::titled(WIDTH, title, &lines);
    let top = p.heading(title, &lines) + 14.0;
    let bottom = top + HIGH;
    let highest = upper(year, 0.95).max(reserve.amount);
    let up = Scale::new(0.0, end_for(highest, 5), bottom, top);
    let along = Scale::new(0.0, months.len() as f64, LEFT, RIGHT);
    for tick in up.ticks(5) {
        let y = up.at(tick);
        p.line((LEFT, y), (RIGHT, y), ink::GRID, 1.0);
        p.text((LEFT - 6.0, y), amount(tick), 12.0, Anchor::End, ink::QUIET);
    }
    for (level, fill) in FILLS {
        fan(&mut p, &months, level, fill, &along, &up);
    }
    let mut before = (along.at(0.0), up.at(0.0));
    for (i, (_, cost)) in months.iter().enumerate() {
        let here = (along.at(i as f64 + 1.0), up.at(cost.expected));
        p.line(before, here, ink::MAIN, 2.0);
        before = here;
    }
    let y = up.at(reserve.amount);
    p.dashed((LEFT, y), (RIGHT, y), ink::APART, 1.5);
    let notes = [
        (
            y,
            format!(
                "reserve at {:.0} %: {}",
                100.0 * reserve.confidence,
                amount(reserve.amount)
            ),
            ink::APART,
        ),
        (
            before.1,
            format!("expected: {}", amount(year.expected)),
            ink::MAIN,
        ),
    ];
    let apart = (notes[0].0 - notes[1].0).abs() < 16.0;
    for (i, (y, text, ink)) in notes.into_iter().enumerate() {
        let moved = if apart && i == 0 { y - 12.0 } else { y };
        // Two lines, since the space beside the chart is narrow.
        for (j, part) in text.split(": ").enumerate() {
            p.text(
                (RIGHT + 8.0, moved - 7.0 + 14.0 * j as f64),
                part,
                12.0,
                Anchor::Start,
                ink,
            );
        }
    }
    axis(&mut p, answer, &months, &along, bottom);
    Some(p)
}

fn axis(
    p: &mut Picture,
    answer: &Budget,
    months: &[(&MonthOutlook, &Expected)],
    along: &Scale,
    bottom: f64,
) {
    p.line((LEFT, bottom), (RIGHT, bottom), ink::TEXT, 1.0);
    let step = months.len().div_ceil(12).max(1);
    for (i, _) in months
        .iter()
        .enumerate()
        .filter(|(i, _)| (i + 1) % step == 0)
    {
        let x = along.at(i as f64 + 1.0);
        p.text(
            (x, bottom + 14.0),
            (i + 1).to_string(),
            12.0,
            Anchor::Middle,
            ink::QUIET,
        );
    }
    p.text(
        ((LEFT + RIGHT) / 2.0, bottom + 34.0),
        format!("months from {}", answer.question.from),
        13.0,
        Anchor::Middle,
        ink::TEXT,
    );
    p.height = bottom + 50.0;
}

fn fan(
    p: &mut Picture,
    months: &[(&MonthOutlook, &Expected)],
    level: f64,
    fill: Ink,
    along: &Scale,
    up: &Scale,
) {
    let start = (along.at(0.0), up.at(0.0));
    let mut points = vec![start];
    for (i, (_, cost)) in months.iter().enumerate() {
        points.push((along.at(i as f64 + 1.0), up.at(upper(cost, level))));
    }
    for (i, (_, cost)) in months.iter().enumerate().rev() {
        points.push((along.at(i as f64 + 1.0), up.at(lower(cost, level))));
    }
    p.marks.push(Mark::Shape { points, ink: fill });
}

fn upper(cost: &Expected, level: f64) -> f64 {
    let found = cost.ranges.iter().find(|r| r.level == level);
    found.map_or(cost.expected, |r| r.upper)
}

fn lower(cost: &Expected, level: f64) -> f64 {
    let found = cost.ranges.iter().find(|r| r.level == level);
    found.map_or(cost.expected, |r| r.lower)
}
