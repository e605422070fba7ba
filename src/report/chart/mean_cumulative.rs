//! Mean repairs a vehicle by distance: steps with their band, and under them the vehicles they rest on; one panel a group.

use super::axis::{Scale, end_for, tick_text};
use super::ink;
use super::picture::{Anchor, Mark, Picture};
use crate::answer::repeats::compute::{FEWEST_AT_RISK, enough_at_risk};
use crate::answer::repeats::types::{MeanPoint, RepeatGroup, Repeats};
use crate::report::render::number;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 62.0;
const BETWEEN: f64 = 70.0;
const MEANS_HIGH: f64 = 230.0;
const SMALL_HIGH: f64 = 150.0;
const RISK_HIGH: f64 = 46.0;

/// Where one panel stands, with its scales.
struct Panel {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    along: Scale,
    up: Scale,
    /// The last place drawn, in metres.
    end_m: i64,
}

/// The chart of all groups that have repairs, alike in both scales; two panels a row.
pub fn chart(answer: &Repeats, title: &str, exercise: bool) -> Picture {
    let shown: Vec<&RepeatGroup> = answer
        .groups
        .iter()
        .filter(|g| !g.curve.is_empty())
        .collect();
    let mut lines: Vec<String> = match exercise {
        true => Vec::new(),
        false => answer.verdict.iter().take(2).cloned().collect(),
    };
    lines.push(format!(
        "Steps: mean number of repairs a vehicle; band: {:.0} % limits that respect vehicles. Drawn as far as {FEWEST_AT_RISK} vehicles, or of \
         few half of the most, were under observation. Grey below: vehicles under observation.",
        100.0 * answer.question.level
    ));
    let mut p = Picture::titled(WIDTH, title, &lines);
    let mut top = p.heading(title, &lines) + 12.0;
    let columns = shown.len().clamp(1, 2);
    let high = if shown.len() > 2 {
        SMALL_HIGH
    } else {
        MEANS_HIGH
    };
    let wide = (WIDTH - 20.0 - LEFT - (columns as f64 - 1.0) * BETWEEN) / columns as f64;
    let unit = answer.distance_unit();
    let end_m = shown.iter().map(|g| end_of(g)).max().unwrap_or(1);
    let highest = shown.iter().map(|g| highest(g, end_m)).fold(0.0, f64::max);
    for row in shown.chunks(columns) {
        for (column, group) in row.iter().enumerate() {
            let left = LEFT + column as f64 * (wide + BETWEEN);
            let (right, from) = (
                left + wide,
                top + if answer.groups.len() > 1 { 22.0 } else { 0.0 },
            );
            let panel = Panel {
                left,
                right,
                top: from,
                bottom: from + high,
                along: Scale::new(0.0, unit.from_metres(end_m), left, right),
                up: Scale::new(0.0, end_for(highest, 4), from + high, from),
                end_m,
            };
            if answer.groups.len() > 1 {
                p.bold(
                    (left, top + 6.0),
                    group.key.title(),
                    13.0,
                    Anchor::Start,
                    ink::TEXT,
                );
            }
            draw(&mut p, answer, group, &panel);
        }
        top += high + RISK_HIGH + 64.0;
    }
    p.text(
        (WIDTH / 2.0, top - 6.0),
        format!("distance on the engine ({})", unit.symbol()),
        13.0,
        Anchor::Middle,
        ink::TEXT,
    );
    p.height = top + 12.0;
    p
}

/// The last place with enough vehicles under observation, or the last repair where there is none.
fn end_of(group: &RepeatGroup) -> i64 {
    let watched = group
        .at_risk
        .iter()
        .rev()
        .find(|a| a.vehicles >= enough_at_risk(group));
    let last = group.curve.last().map_or(1, |p| p.distance_m);
    watched.map_or(last, |a| a.distance_m).max(1)
}

/// The highest limit drawn; a limit far above its point is cut there instead of stretching the axis.
fn highest(group: &RepeatGroup, end_m: i64) -> f64 {
    let points = group
        .curve
        .iter()
        .filter(|p| p.distance_m <= end_m.min(end_of(group)));
    points
        .filter_map(|p| p.mean.as_ref())
        .map(|e| e.upper.map_or(e.value, |u| u.min(3.0 * e.value)))
        .fold(0.0, f64::max)
}

fn draw(p: &mut Picture, answer: &Repeats, group: &RepeatGroup, panel: &Panel) {
    for tick in panel.up.ticks(4) {
        let y = panel.up.at(tick);
        p.line((panel.left, y), (panel.right, y), ink::GRID, 1.0);
        p.text(
            (panel.left - 6.0, y),
            tick_text(tick),
            12.0,
            Anchor::End,
            ink::QUIET,
        );
    }
    let unit = answer.distance_unit();
    let x = |metres: i64| panel.along.at(unit.from_metres(metres));
    let end = panel.end_m.min(end_of(group));
    let points: Vec<&MeanPoint> = group.curve.iter().filter(|c| c.distance_m <= end).collect();
    let next = |i: usize| points.get(i + 1).map_or(end, |n| n.distance_m);
    for (i, point) in points.iter().enumerate() {
        let Some(e) = &point.mean else { continue };
        let (low, high) = (
            panel.up.at(e.lower),
            panel.up.at(e.upper.unwrap_or(e.value)),
        );
        let (from, to) = (x(point.distance_m), x(next(i)));
        p.filled((from, high), (to - from, low - high), ink::BEHIND);
    }
    let mut before = panel.up.at(0.0);
    p.line(
        (panel.left, before),
        (x(points.first().map_or(end, |f| f.distance_m)), before),
        ink::MAIN,
        2.0,
    );
    for (i, point) in points.iter().enumerate() {
        let Some(e) = &point.mean else { continue };
        let (from, y) = (x(point.distance_m), panel.up.at(e.value));
        p.line((from, before), (from, y), ink::MAIN, 2.0);
        p.line((from, y), (x(next(i)), y), ink::MAIN, 2.0);
        before = y;
    }
    p.line(
        (panel.left, panel.bottom),
        (panel.right, panel.bottom),
        ink::QUIET,
        1.0,
    );
    p.text(
        (panel.right, panel.top - 8.0),
        format!(
            "n = {} repairs in {} vehicles",
            group.evidence.events, group.evidence.vehicles
        ),
        12.0,
        Anchor::End,
        ink::TEXT,
    );
    at_risk(p, answer, group, panel);
}

/// Vehicles under observation along the clock, with their greatest number.
fn at_risk(p: &mut Picture, answer: &Repeats, group: &RepeatGroup, panel: &Panel) {
    let unit = answer.distance_unit();
    let (top, bottom) = (panel.bottom + 16.0, panel.bottom + 16.0 + RISK_HIGH);
    let most = group.at_risk.iter().map(|a| a.vehicles).max().unwrap_or(0);
    let scale = Scale::new(0.0, most as f64, bottom, top);
    let place = |metres: i64| panel.along.at(unit.from_metres(metres));
    let mut outline = vec![(panel.left, bottom)];
    let inside = group.at_risk.iter().filter(|a| a.distance_m <= panel.end_m);
    let corners: Vec<(f64, f64)> = inside
        .map(|a| (place(a.distance_m), scale.at(a.vehicles as f64)))
        .collect();
    let last = corners.last().map_or(panel.left, |c| c.0);
    outline.extend(corners);
    outline.push((last, bottom));
    p.marks.push(Mark::Shape {
        points: outline,
        ink: ink::BEHIND,
    });
    p.line((panel.left, bottom), (panel.right, bottom), ink::QUIET, 1.0);
    p.text(
        (panel.left - 6.0, top),
        number::grouped(most as i64),
        12.0,
        Anchor::End,
        ink::QUIET,
    );
    p.text(
        (panel.left - 6.0, bottom),
        "0",
        12.0,
        Anchor::End,
        ink::QUIET,
    );
    for tick in panel.along.ticks(5) {
        p.text(
            (panel.along.at(tick), bottom + 14.0),
            number::grouped(tick.round() as i64),
            12.0,
            Anchor::Middle,
            ink::TEXT,
        );
    }
}
