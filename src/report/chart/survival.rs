//! Survival of one group over distance: the curve with its limits and band, where lives left, and how many were at risk.

use super::axis::{Scale, end_for, tick_text};
use super::ink;
use super::picture::{Anchor, Mark, Picture};
use crate::answer::life::Life;
use crate::answer::life::types::GroupLife;
use crate::report::render::number;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 84.0;
const RIGHT: f64 = 872.0;
const HIGH: f64 = 300.0;
/// More ticks than this would be a bar; the numbers at risk say as much.
const MOST_TICKS: usize = 400;

/// The chart of one group.
pub fn chart(life: &Life, group: &GroupLife, title: &str, verdict: &[String]) -> Picture {
    let unit = life.unit();
    let thousands = |m: i64| unit.from_metres(m) / 1000.0;
    let mut lines = verdict.to_vec();
    lines.push(format!(
        "Kaplan-Meier, {} failures, {} lives; those seen late come under risk late. Dark: limits at {:.0} % for each distance; pale: for the whole curve at once. \
         Ticks: lives that left without failure.{}",
        group.evidence.events,
        number::grouped(group.lives as i64),
        100.0 * life.question.level,
        group.fits.first().filter(|_| !group.drawn.fit_line.is_empty()).map_or(String::new(), |f| {
            format!(" Dashed: the best of the fitted distributions ({}).", fitted(group, f.distribution))
        })
    ));
    let mut p = Picture::titled(WIDTH, title, &lines);
    let top = p.heading(title, &lines) + 14.0;
    let bottom = top + HIGH;
    let end = shown_end(group);
    let x = Scale::new(0.0, end_for(thousands(end), 8), LEFT, RIGHT);
    let y = Scale::new(0.0, 1.0, bottom, top);
    axes(&mut p, &x, &y, unit.word(), bottom);
    let place = |m: i64| x.at(thousands(m));
    shade(&mut p, group, end, &place, &y, true);
    shade(&mut p, group, end, &place, &y, false);
    for pair in group.drawn.fit_line.windows(2) {
        if let [a, b] = pair {
            p.dashed(
                (place(a.0), y.at(a.1)),
                (place(b.0), y.at(b.1)),
                ink::APART,
                1.8,
            );
        }
    }
    let path = steps(group, end);
    for pair in path.windows(2) {
        if let [(m, s), (next, after)] = pair {
            let (from, to) = (place(*m), place(*next));
            p.line((from, y.at(*s)), (to, y.at(*s)), ink::MAIN, 2.4);
            p.line((to, y.at(*s)), (to, y.at(*after)), ink::MAIN, 2.4);
        }
    }
    ticks(&mut p, group, &path, end, &place, &y);
    at_risk(&mut p, group, end, &place, bottom + 50.0);
    p.height = bottom + 84.0;
    p
}

/// The dashed line is the best of the families with two parameters.
fn fitted<'a>(group: &'a GroupLife, best: &'a str) -> &'a str {
    let mut families = group.fits.iter().map(|f| f.distribution);
    families.find(|d| *d != "exponential").unwrap_or(best)
}

/// The chart ends where fewer than the least are at risk, or with the last failure before everything is lost.
fn shown_end(group: &GroupLife) -> i64 {
    let last = group.curve.last().map_or(0, |s| s.distance_m);
    let to = group.to_m.unwrap_or(last);
    group
        .well_filled_to_m
        .map_or(to, |filled| filled.saturating_add(filled / 8).min(to))
}

/// Distance and share from each step on, from the beginning of the curve to its end.
fn steps(group: &GroupLife, end: i64) -> Vec<(i64, f64)> {
    let mut path = vec![(group.from_m.unwrap_or(0), 1.0)];
    let inside = group.curve.iter().take_while(|s| s.distance_m <= end);
    path.extend(inside.map(|s| (s.distance_m, s.survival)));
    let last = path.last().map_or(1.0, |s| s.1);
    path.push((end, last));
    path
}

fn axes(p: &mut Picture, x: &Scale, y: &Scale, unit: &str, bottom: f64) {
    for tick in y.ticks(5) {
        let at = y.at(tick);
        p.line((LEFT, at), (RIGHT, at), ink::GRID, 1.0);
        let text = format!("{} %", tick_text(100.0 * tick));
        p.text((LEFT - 8.0, at), text, 12.0, Anchor::End, ink::QUIET);
    }
    for tick in x.ticks(8) {
        let at = x.at(tick);
        p.line((at, bottom), (at, bottom + 5.0), ink::QUIET, 1.0);
        p.text(
            (at, bottom + 14.0),
            tick_text(tick),
            12.0,
            Anchor::Middle,
            ink::QUIET,
        );
    }
    p.line((LEFT, bottom), (RIGHT, bottom), ink::QUIET, 1.0);
    p.text(
        (RIGHT, bottom + 30.0),
        format!("thousand {unit}"),
        12.0,
        Anchor::End,
        ink::TEXT,
    );
    p.text(
        (LEFT, y.at(1.0) - 14.0),
        "without failure so far",
        12.0,
        Anchor::Start,
        ink::TEXT,
    );
}

/// The limits as a filled shape of steps: of the whole curve (`band`), or of each distance.
fn shade(
    p: &mut Picture,
    group: &GroupLife,
    end: i64,
    place: &impl Fn(i64) -> f64,
    y: &Scale,
    band: bool,
) {
    let inside = group.curve.iter().take_while(|s| s.distance_m <= end);
    let limits: Vec<(i64, f64, f64)> = inside
        .filter_map(|s| {
            let (lower, upper) = match band {
                true => (s.band_lower?, s.band_upper?),
                false => (s.lower?, s.upper?),
            };
            Some((s.distance_m, lower, upper))
        })
        .collect();
    let until = match band {
        true => group.band.as_ref().map_or(end, |b| b.to_m.min(end)),
        false => end,
    };
    let ends = limits.iter().skip(1).map(|l| l.0).chain([until]);
    let colour = if band {
        ink::mixed(ink::BEHIND, 0.45)
    } else {
        ink::BEHIND
    };
    // One box a step: a single outline of thousands of corners is slow to fill.
    for ((from, lower, upper), to) in limits.iter().zip(ends) {
        let (a, b) = (place(*from), place(to));
        let (high, low) = (y.at(*upper), y.at(*lower));
        p.filled((a, high), ((b - a).max(0.6), low - high), colour);
    }
}

fn ticks(
    p: &mut Picture,
    group: &GroupLife,
    path: &[(i64, f64)],
    end: i64,
    place: &impl Fn(i64) -> f64,
    y: &Scale,
) {
    let left = &group.drawn.left_at_m;
    if left.len() > MOST_TICKS {
        return;
    }
    for m in left.iter().filter(|m| **m <= end) {
        let passed = path.partition_point(|s| s.0 <= *m);
        let level = path.get(passed.saturating_sub(1)).map_or(1.0, |s| s.1);
        let (at, level) = (place(*m), y.at(level));
        p.line((at, level - 3.5), (at, level + 3.5), ink::TEXT, 0.6);
    }
}

/// How many were at risk: just after the beginning of the curve, then at the edges of the mileage bands.
fn at_risk(p: &mut Picture, group: &GroupLife, end: i64, place: &impl Fn(i64) -> f64, at: f64) {
    p.text((12.0, at), "at risk", 12.0, Anchor::Start, ink::TEXT);
    let start = group.from_m.map(|from| (from, group.drawn.at_start));
    let edges = group.milestones.iter().map(|m| (m.distance_m, m.at_risk));
    let mut last = LEFT - 47.0;
    for (m, lives) in start.into_iter().chain(edges).filter(|(m, _)| *m <= end) {
        let x = place(m);
        if x - last < 46.0 {
            continue;
        }
        last = x;
        p.marks.push(Mark::Line {
            from: (x, at - 12.0),
            to: (x, at - 46.0),
            ink: ink::GRID,
            width: 1.0,
            dashed: true,
        });
        p.text(
            (x, at),
            number::grouped(lives as i64),
            12.0,
            Anchor::Middle,
            ink::TEXT,
        );
    }
}
