//! Where healthy cylinders read and where confirmed faults do: healthy above the line, faults below it, each as a share of its own.

use super::axis::{Scale, end_for, tick_text};
use super::ink;
use super::picture::{Anchor, Mark, Picture};
use crate::answer::parts::Estimate;
use crate::answer::readings::types::{CutOffRow, Histogram, Range, Readings};

const WIDTH: f64 = 900.0;
const LEFT: f64 = 80.0;
const RIGHT: f64 = 870.0;
/// Height of one half of a panel.
const HALF: f64 = 95.0;
/// Strip above a panel for the range and the cut-off.
const STRIP: f64 = 42.0;

/// The chart of one family and test: readings, then cylinders against the others of their engine; `exercise` leaves verdict and
/// cut-off out, for students to find.
pub fn chart(answer: &Readings, exercise: bool) -> Picture {
    let title = format!(
        "What do healthy cylinders read? {}, {}",
        answer.family_title, answer.test_title
    );
    let mut lines = if exercise {
        Vec::new()
    } else {
        answer.verdict.clone()
    };
    lines.push(format!(
        "n = {} healthy cylinders of {} engines, {} confirmed faults{}. Shaded: central 95 % of healthy cylinders, 90 % intervals on its ends{}.",
        count(answer, "cylinder", |h| &h.healthy),
        answer.ranges.first().map_or(0, |r| r.engines),
        answer.evidence.events,
        period(answer),
        if exercise || answer.cut_offs.is_empty() {
            ""
        } else {
            "; thick line: best cut-off"
        }
    ));
    let mut p = Picture::titled(WIDTH, &title, &lines);
    let mut top = p.heading(&title, &lines) + 8.0;
    for histogram in &answer.histograms {
        let range = answer.ranges.iter().find(|r| r.id == histogram.of);
        let on = if histogram.of == "contrast" {
            "contrast"
        } else {
            "reading"
        };
        let cut = answer.cut_offs.iter().find(|c| c.on == on && !exercise);
        let Some(range) = range else { continue };
        top = panel(&mut p, top, histogram, range, cut) + 24.0;
    }
    p.height = top;
    p
}

fn count(answer: &Readings, of: &str, group: impl Fn(&Histogram) -> &Vec<u64>) -> u64 {
    let range = answer.ranges.iter().find(|r| r.id == of);
    let drawn = answer.histograms.iter().find(|h| h.of == of);
    range.map_or_else(
        || drawn.map_or(0, |h| group(h).iter().sum()),
        |r| r.readings,
    )
}

fn period(answer: &Readings) -> String {
    match (answer.evidence.first_date, answer.evidence.last_date) {
        (Some(first), Some(last)) => format!(", {first} to {last}"),
        _ => String::new(),
    }
}

/// Draws one panel; gives the y below it.
fn panel(p: &mut Picture, top: f64, h: &Histogram, range: &Range, cut: Option<&CutOffRow>) -> f64 {
    let bins = h.healthy.len().max(1) as f64;
    let (from, to) = axis_ends(h, range, bins * h.width);
    let x = Scale::new(from, to, LEFT, RIGHT);
    let (above, middle, below) = (top + STRIP, top + STRIP + HALF, top + STRIP + 2.0 * HALF);
    let share = |counts: &[u64]| -> Vec<f64> {
        let n = counts.iter().sum::<u64>().max(1) as f64;
        counts.iter().map(|c| *c as f64 / n).collect()
    };
    let (healthy, faulty) = (share(&h.healthy), share(&h.faulty));
    let highest = healthy.iter().chain(&faulty).copied().fold(0.0, f64::max);
    let end = end_for(highest, 2).min(1.0);
    let up = Scale::new(0.0, end, middle, above);
    let down = Scale::new(0.0, end, middle, below);
    shade(p, &x, range, above, below);
    grid(p, (&up, &down), middle);
    for (i, (well, ill)) in healthy.iter().zip(&faulty).enumerate() {
        let left = x.at(h.from + i as f64 * h.width);
        let wide = (x.at(h.from + (i + 1) as f64 * h.width) - left - 1.0).max(1.0);
        if *well > 0.0 {
            p.filled(
                (left, up.at(*well)),
                (wide, middle - up.at(*well)),
                ink::MAIN,
            );
        }
        if *ill > 0.0 {
            p.marks.push(Mark::Hatched {
                at: (left, middle),
                size: (wide, down.at(*ill) - middle),
                ink: ink::APART,
            });
        }
    }
    p.line((LEFT, middle), (RIGHT, middle), ink::TEXT, 1.2);
    names(p, &x, range, above, below);
    ends(p, &x, range, above, below);
    if let Some(cut) = cut {
        cut_off(p, &x, cut, range, above, below);
    }
    axis(p, &x, h, range, below)
}

/// The central 95 % as a band behind everything.
fn shade(p: &mut Picture, x: &Scale, range: &Range, above: f64, below: f64) {
    if let (Some(lower), Some(upper)) = (&range.lower, &range.upper) {
        let (from, to) = (x.at(lower.value), x.at(upper.value));
        p.filled((from, above), (to - from, below - above), (232, 238, 243));
    }
}

fn grid(p: &mut Picture, (up, down): (&Scale, &Scale), middle: f64) {
    for scale in [up, down] {
        for tick in scale.ticks(2) {
            let y = scale.at(tick);
            if (y - middle).abs() > 1.0 {
                p.line((LEFT, y), (RIGHT, y), ink::GRID, 1.0);
            }
            p.text(
                (LEFT - 8.0, y),
                format!("{} %", tick_text(100.0 * tick)),
                12.0,
                Anchor::End,
                ink::QUIET,
            );
        }
    }
}

/// The ends of the range as dashed lines, with their intervals as whiskers above the panel.
fn ends(p: &mut Picture, x: &Scale, range: &Range, above: f64, below: f64) {
    let y = above - 10.0;
    let mut end = |e: &Estimate, anchor: Anchor| {
        let at = x.at(e.value);
        let (from, to) = (x.at(e.lower), x.at(e.upper.unwrap_or(e.value)));
        p.dashed((at, above), (at, below), ink::TEXT, 1.2);
        p.line((from, y), (to, y), ink::TEXT, 1.6);
        for limit in [from, to] {
            p.line((limit, y - 4.0), (limit, y + 4.0), ink::TEXT, 1.6);
        }
        p.text(
            (at, y - 14.0),
            crate::report::render::number::quantity(e.value),
            12.0,
            anchor,
            ink::TEXT,
        );
    };
    if let (Some(lower), Some(upper)) = (&range.lower, &range.upper) {
        end(lower, Anchor::End);
        end(upper, Anchor::Start);
    } else {
        p.text(
            (LEFT, y),
            "comparison only: too few engines for a range",
            12.0,
            Anchor::Start,
            ink::QUIET,
        );
    }
}

fn cut_off(p: &mut Picture, x: &Scale, cut: &CutOffRow, range: &Range, above: f64, below: f64) {
    let places = match cut.side {
        "apart" if cut.on == "contrast" && cut.value > 0.0 => vec![cut.value, 1.0 / cut.value],
        _ => vec![cut.value],
    };
    let middle = range.median.as_ref().map_or(0.0, |m| m.value);
    for place in places {
        let at = x.at(place);
        p.line((at, above), (at, below), ink::APART, 2.0);
        // On the side away from the healthy.
        let (at, anchor) = if place > middle {
            (at + 6.0, Anchor::Start)
        } else {
            (at - 6.0, Anchor::End)
        };
        let words = format!("cut-off {}", crate::report::render::number::quantity(place));
        p.text((at, above + 10.0), words, 12.0, anchor, ink::TEXT);
    }
}

/// Which half is which, in the corner that is further from the healthy.
fn names(p: &mut Picture, x: &Scale, range: &Range, above: f64, below: f64) {
    let middle = range.median.as_ref().map_or(f64::INFINITY, |m| m.value);
    let (at, anchor) = if x.at(middle) < (LEFT + RIGHT) / 2.0 {
        (RIGHT - 4.0, Anchor::End)
    } else {
        (LEFT + 4.0, Anchor::Start)
    };
    let half = (above + below) / 2.0;
    p.text((at, half - 12.0), "healthy", 13.0, anchor, ink::MAIN);
    p.text(
        (at, below - 10.0),
        "confirmed faults",
        13.0,
        anchor,
        ink::APART,
    );
}

/// The bins, and the ends of the range where they lie beyond.
fn axis_ends(h: &Histogram, range: &Range, span: f64) -> (f64, f64) {
    let (mut from, mut to) = (h.from, h.from + span);
    let room = 0.03 * span;
    if let (Some(lower), Some(upper)) = (&range.lower, &range.upper) {
        from = from.min(lower.value - room);
        to = to.max(upper.value + room);
    }
    (from, to)
}

fn axis(p: &mut Picture, x: &Scale, h: &Histogram, range: &Range, below: f64) -> f64 {
    for tick in x.ticks(8) {
        let at = x.at(tick);
        p.line((at, below), (at, below + 4.0), ink::TEXT, 1.0);
        p.text(
            (at, below + 14.0),
            tick_text(tick),
            12.0,
            Anchor::Middle,
            ink::QUIET,
        );
    }
    let mut words = format!("{} ({})", range.title, range.unit);
    if h.below + h.above > 0 {
        words += &format!("; {} readings lie beyond this axis", h.below + h.above);
    }
    p.text(
        ((LEFT + RIGHT) / 2.0, below + 34.0),
        words,
        13.0,
        Anchor::Middle,
        ink::TEXT,
    );
    below + 44.0
}
