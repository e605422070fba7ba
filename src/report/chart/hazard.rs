//! Rate of first failures by mileage band, with the rate of every failure beside it.

use super::axis::{Scale, end_for, tick_text};
use super::ink;
use super::picture::{Anchor, Mark, Picture};
use crate::answer::life::Life;
use crate::answer::life::types::{GroupLife, HazardBand};
use crate::answer::parts::Estimate;
use crate::report::render::number;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 84.0;
const RIGHT: f64 = 880.0;
const HIGH: f64 = 240.0;

/// The chart of one group.
pub fn chart(life: &Life, group: &GroupLife, title: &str) -> Picture {
    let unit = life.unit();
    let both = group.hazard.iter().any(|b| b.every_failure.is_some());
    let mut lines = vec![format!(
        "First failures per 100 000 {} at risk of one; exact intervals at {:.0} %.",
        unit.symbol(),
        100.0 * life.question.level
    )];
    if both {
        lines.push("Open ring: every failure over all distance, repeats included.".to_string());
    }
    let mut p = Picture::titled(WIDTH, title, &lines);
    let top = p.heading(title, &lines) + 12.0;
    let bottom = top + HIGH;
    let highest = group
        .hazard
        .iter()
        .flat_map(|b| [b.rate.as_ref(), b.every_failure.as_ref()])
        .flatten()
        .map(shown_upper)
        .fold(0.0, f64::max);
    let y = Scale::new(0.0, end_for(highest, 5), bottom, top);
    for tick in y.ticks(5) {
        let at = y.at(tick);
        p.line((LEFT, at), (RIGHT, at), ink::GRID, 1.0);
        p.text(
            (LEFT - 8.0, at),
            tick_text(tick),
            12.0,
            Anchor::End,
            ink::QUIET,
        );
    }
    let step = (RIGHT - LEFT) / group.hazard.len().max(1) as f64;
    for (i, band) in group.hazard.iter().enumerate() {
        let x = LEFT + step * (i as f64 + 0.5);
        bar(&mut p, band, &y, x, step, bottom);
        let far = number::quantity(unit.from_metres(band.exposure_m));
        let counts = format!("{} in {far} {}", band.failures, unit.symbol());
        p.text((x, bottom + 14.0), counts, 11.5, Anchor::Middle, ink::TEXT);
        let label = band.band.clone();
        p.text((x, bottom + 32.0), label, 11.5, Anchor::Middle, ink::QUIET);
    }
    p.line((LEFT, bottom), (RIGHT, bottom), ink::QUIET, 1.0);
    p.height = bottom + 50.0;
    p
}

/// An upper limit far above the point is cut and gets an arrow.
fn shown_upper(e: &Estimate) -> f64 {
    e.upper.filter(|u| u.is_finite()).map_or(e.value, |u| {
        if e.value > 0.0 {
            u.min(6.0 * e.value)
        } else {
            u
        }
    })
}

fn bar(p: &mut Picture, band: &HazardBand, y: &Scale, x: f64, step: f64, bottom: f64) {
    let wide = (0.4 * step).min(70.0);
    if let Some(rate) = &band.rate {
        let at = y.at(rate.value);
        p.filled((x - wide / 2.0, at), (wide, bottom - at), ink::MAIN);
        let upper = rate.upper.unwrap_or(f64::INFINITY);
        let (low, high) = (y.at(rate.lower), y.at(upper));
        p.line((x, low), (x, high), ink::TEXT, 1.6);
        p.line((x - 5.0, low), (x + 5.0, low), ink::TEXT, 1.6);
        if y.beyond(upper) {
            p.marks.push(Mark::Shape {
                points: vec![
                    (x, high - 7.0),
                    (x - 4.5, high + 1.0),
                    (x + 4.5, high + 1.0),
                ],
                ink: ink::TEXT,
            });
        } else {
            p.line((x - 5.0, high), (x + 5.0, high), ink::TEXT, 1.6);
        }
    }
    if let Some(every) = &band.every_failure {
        let at = (x + wide / 2.0 + 14.0, y.at(every.value));
        for (radius, ink) in [(6.0, ink::APART), (3.6, ink::PAPER)] {
            p.marks.push(Mark::Disc { at, radius, ink });
        }
    }
}
