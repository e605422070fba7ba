//! Rate by mileage band: bars with intervals, and under them the distance each bar rests on.

use super::axis::{Scale, end_for, tick_text};
use super::ink;
use super::picture::{Anchor, Mark, Picture};
use crate::answer::rates::types::{RateRow, Rates};
use crate::report::render::number;
use crate::tally::Dimension;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 90.0;
const RIGHT: f64 = 880.0;
const RATES_HIGH: f64 = 250.0;
const EXPOSURE_HIGH: f64 = 70.0;

/// The chart of an answer split by band only.
pub fn chart(answer: &Rates, title: &str) -> Picture {
    let known: Vec<&RateRow> = answer
        .rows
        .iter()
        .filter(|r| {
            r.key.part(Dimension::Band).is_some_and(|l| l.id.is_some())
                && r.evidence.exposure_m.unwrap_or(0) > 0
        })
        .collect();
    let unknown = answer.rows.iter().find(|r| r.key.has_unknown());
    let mut lines = verdict(answer);
    lines.push(format!(
        "In {}; intervals at {:.0} %.",
        answer.unit,
        100.0 * answer.question.level
    ));
    if let Some(u) = unknown {
        lines.push(format!(
            "{} failures at an unknown distance are in no bar.",
            u.evidence.events + u.walk_ins
        ));
    }
    let mut p = Picture::titled(WIDTH, title, &lines);
    let top = p.heading(title, &lines) + 12.0;
    let bottom = top + RATES_HIGH;
    let highest = known
        .iter()
        .filter_map(|r| r.estimate.as_ref())
        .map(|e| shown_upper(e.value, e.upper))
        .fold(0.0, f64::max);
    let scale = Scale::new(0.0, end_for(highest, 5), bottom, top);
    for tick in scale.ticks(5) {
        let y = scale.at(tick);
        p.line((LEFT, y), (RIGHT, y), ink::GRID, 1.0);
        p.text(
            (LEFT - 8.0, y),
            tick_text(tick),
            12.0,
            Anchor::End,
            ink::QUIET,
        );
    }
    let step = (RIGHT - LEFT) / known.len().max(1) as f64;
    for (i, row) in known.iter().enumerate() {
        bar(
            &mut p,
            row,
            &scale,
            LEFT + step * (i as f64 + 0.5),
            step,
            bottom,
            top,
        );
    }
    exposure(&mut p, answer, &known, bottom + 34.0, step);
    p.height = bottom + 34.0 + EXPOSURE_HIGH + 66.0;
    p
}

/// An upper limit far above the point does not stretch the axis: it is cut there and gets an arrow.
fn shown_upper(value: f64, upper: Option<f64>) -> f64 {
    upper
        .filter(|u| u.is_finite())
        .map_or(value, |u| if value > 0.0 { u.min(6.0 * value) } else { u })
}

fn bar(p: &mut Picture, row: &RateRow, scale: &Scale, x: f64, step: f64, bottom: f64, top: f64) {
    let Some(e) = &row.estimate else {
        return;
    };
    let wide = (0.5 * step).min(80.0);
    let y = scale.at(e.value);
    p.filled((x - wide / 2.0, y), (wide, bottom - y), ink::MAIN);
    let upper = e.upper.unwrap_or(f64::INFINITY);
    let (low, high) = (scale.at(e.lower), scale.at(upper));
    p.line((x, low), (x, high), ink::TEXT, 1.6);
    p.line((x - 5.0, low), (x + 5.0, low), ink::TEXT, 1.6);
    if scale.beyond(upper) {
        p.marks.push(Mark::Shape {
            points: vec![(x, top - 7.0), (x - 4.5, top + 1.0), (x + 4.5, top + 1.0)],
            ink: ink::TEXT,
        });
    } else {
        p.line((x - 5.0, high), (x + 5.0, high), ink::TEXT, 1.6);
    }
    let n = format!("n = {}", row.evidence.events);
    p.text((x, bottom + 14.0), n, 12.0, Anchor::Middle, ink::TEXT);
}

fn exposure(p: &mut Picture, answer: &Rates, known: &[&RateRow], top: f64, step: f64) {
    let unit = answer.distance_unit();
    let distance = |r: &RateRow| unit.from_metres(r.evidence.exposure_m.unwrap_or(0));
    let most = known.iter().map(|r| distance(r)).fold(0.0, f64::max);
    let bottom = top + EXPOSURE_HIGH;
    let scale = Scale::new(0.0, most, bottom, top + 16.0);
    for (i, row) in known.iter().enumerate() {
        let x = LEFT + step * (i as f64 + 0.5);
        let wide = (0.5 * step).min(80.0);
        let y = scale.at(distance(row));
        p.filled((x - wide / 2.0, y), (wide, bottom - y), ink::BEHIND);
        p.text(
            (x, y - 9.0),
            number::quantity(distance(row)),
            12.0,
            Anchor::Middle,
            ink::QUIET,
        );
        p.text(
            (x, bottom + 14.0),
            row.key.title(),
            12.0,
            Anchor::Middle,
            ink::TEXT,
        );
    }
    p.line((LEFT, bottom), (RIGHT, bottom), ink::QUIET, 1.0);
    p.text(
        (LEFT - 8.0, bottom - 14.0),
        format!("{} at risk", unit.symbol()),
        12.0,
        Anchor::End,
        ink::QUIET,
    );
    p.text(
        ((LEFT + RIGHT) / 2.0, bottom + 42.0),
        "distance on the engine (odometer, unless the engine was replaced)",
        13.0,
        Anchor::Middle,
        ink::TEXT,
    );
}

fn verdict(answer: &Rates) -> Vec<String> {
    answer.verdict.iter().skip(1).cloned().collect()
}
