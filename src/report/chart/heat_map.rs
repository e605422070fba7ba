//! Families by causes: colour for the rate, numbers in every cell, so that nobody has to guess a colour.

use super::ink;
use super::lettering::{text_width, wrapped};
use super::picture::{Anchor, Picture};
use crate::answer::rates::types::{RateRow, Rates};
use crate::report::render::number;
use crate::tally::Dimension;

const CELL_HIGH: f64 = 34.0;
const CELL_WIDE: f64 = 104.0;

/// The chart of an answer split by family and cause.
pub fn chart(answer: &Rates, title: &str) -> Picture {
    let titles = |dimension: Dimension| {
        let mut seen: Vec<String> = Vec::new();
        for row in &answer.rows {
            if let Some(label) = row.key.part(dimension)
                && !seen.contains(&label.title)
            {
                seen.push(label.title.clone());
            }
        }
        seen
    };
    let (families, causes) = (
        titles(Dimension::Family),
        by_events(answer, titles(Dimension::Cause)),
    );
    let label_width = causes
        .iter()
        .map(|c| text_width(c, 13.0))
        .fold(60.0, f64::max);
    let left = 12.0 + label_width + 12.0;
    let width = (left + CELL_WIDE * families.len() as f64 + 12.0).max(560.0);
    let lines = vec![
        format!("Each cell: {} and, in brackets, failures in the rate plus walk-ins.", answer.unit),
        "Darker is a higher rate. A rate from few failures moves easily: the table has the intervals.".to_string(),
    ];
    let mut p = Picture::titled(width, title, &lines);
    let top = p.heading(title, &lines) + 46.0;
    for (j, family) in families.iter().enumerate() {
        let x = left + CELL_WIDE * (j as f64 + 0.5);
        let parts = wrapped(family, 12.0, CELL_WIDE - 6.0);
        for (k, part) in parts.iter().enumerate() {
            p.text(
                (x, top - 8.0 - 15.0 * (parts.len() - 1 - k) as f64),
                part.clone(),
                12.0,
                Anchor::Middle,
                ink::TEXT,
            );
        }
    }
    let highest = answer
        .rows
        .iter()
        .filter_map(|r| r.estimate.as_ref())
        .map(|e| e.value)
        .fold(0.0, f64::max);
    for (i, cause) in causes.iter().enumerate() {
        let y = top + CELL_HIGH * i as f64;
        p.text(
            (left - 10.0, y + CELL_HIGH / 2.0),
            cause.clone(),
            13.0,
            Anchor::End,
            ink::TEXT,
        );
        for (j, family) in families.iter().enumerate() {
            let found = answer
                .rows
                .iter()
                .find(|r| is(r, Dimension::Family, family) && is(r, Dimension::Cause, cause));
            cell(&mut p, found, highest, (left + CELL_WIDE * j as f64, y));
        }
    }
    p.height = top + CELL_HIGH * causes.len() as f64 + 14.0;
    p
}

/// Causes with most failures first.
fn by_events(answer: &Rates, causes: Vec<String>) -> Vec<String> {
    let mut counted: Vec<(u64, String)> = causes
        .into_iter()
        .map(|cause| {
            let n = answer
                .rows
                .iter()
                .filter(|r| is(r, Dimension::Cause, &cause))
                .map(|r| r.evidence.events + r.walk_ins)
                .sum();
            (n, cause)
        })
        .collect();
    counted.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    counted.into_iter().map(|(_, cause)| cause).collect()
}

fn is(row: &RateRow, dimension: Dimension, title: &str) -> bool {
    row.key.part(dimension).is_some_and(|l| l.title == title)
}

fn cell(p: &mut Picture, row: Option<&RateRow>, highest: f64, at: (f64, f64)) {
    let size = (CELL_WIDE - 2.0, CELL_HIGH - 2.0);
    let middle = (at.0 + size.0 / 2.0, at.1 + size.1 / 2.0);
    let Some(row) = row else {
        return;
    };
    let counts = if row.walk_ins > 0 {
        format!("({} + {})", row.evidence.events, row.walk_ins)
    } else {
        format!("({})", row.evidence.events)
    };
    match &row.estimate {
        Some(e) => {
            // The square root keeps small rates apart, where most cells are.
            let ground = ink::ramp(if highest > 0.0 {
                (e.value / highest).sqrt()
            } else {
                0.0
            });
            p.filled(at, size, ground);
            let text = match row.evidence.events + row.walk_ins {
                0 => "0".to_string(),
                _ => format!("{} {counts}", number::quantity(e.value)),
            };
            p.text(middle, text, 12.0, Anchor::Middle, ink::on(ground));
        }
        None => {
            p.marks.push(super::picture::Mark::Hatched {
                at,
                size,
                ink: ink::GRID,
            });
            p.text(
                middle,
                format!("– {counts}"),
                12.0,
                Anchor::Middle,
                ink::TEXT,
            );
        }
    }
}
