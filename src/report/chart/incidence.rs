//! Which cause comes first: shares failed first by each cause, stacked, with what has not failed above them.

use super::axis::{Scale, end_for, tick_text};
use super::ink;
use super::lettering::text_width;
use super::picture::{Anchor, Picture};
use crate::answer::life::Life;
use crate::answer::life::types::{CauseIncidence, GroupLife};

const WIDTH: f64 = 900.0;
const LEFT: f64 = 84.0;
const RIGHT: f64 = 600.0;
const HIGH: f64 = 300.0;
/// Causes drawn on their own, largest first; the rest is one layer.
const MOST: usize = 6;
/// Least distance between two labels.
const LABEL: f64 = 17.0;

/// One layer: its words, and its share from each distance on.
struct Layer {
    words: String,
    steps: Vec<(i64, f64)>,
}

/// The chart of one group with several causes.
pub fn chart(life: &Life, group: &GroupLife, title: &str) -> Picture {
    let unit = life.unit();
    let thousands = |m: i64| unit.from_metres(m) / 1000.0;
    let lines = vec![format!(
        "Share whose first failure was of each cause (Aalen-Johansen with late entry); n = {} first failures. The shares add up to all that \
         failed.",
        group.evidence.events
    )];
    let mut p = Picture::titled(WIDTH, title, &lines);
    let top = p.heading(title, &lines) + 14.0;
    let bottom = top + HIGH;
    let begin = group.from_m.unwrap_or(0);
    let end = group.well_filled_to_m.or(group.to_m).unwrap_or(begin);
    let x = Scale::new(0.0, end_for(thousands(end), 8), LEFT, RIGHT);
    let y = Scale::new(0.0, 1.0, bottom, top);
    let place = |m: i64| x.at(thousands(m));
    let layers = layers(&group.incidence, end);
    let mut corners: Vec<i64> = layers
        .iter()
        .flat_map(|l| l.steps.iter().map(|s| s.0))
        .chain([begin, end])
        .collect();
    corners.sort_unstable();
    corners.dedup();
    let mut below = vec![0.0; corners.len()];
    let mut labels = Vec::new();
    for (i, layer) in layers.iter().enumerate() {
        let colour = ink::ramp(1.0 - i as f64 / layers.len().max(2) as f64);
        let shares: Vec<f64> = corners.iter().map(|m| share_at(&layer.steps, *m)).collect();
        for (j, pair) in corners.windows(2).enumerate() {
            if let (&[from, to], Some(base), Some(share)) =
                (pair, below.get(j).copied(), shares.get(j))
            {
                let (high, low) = (y.at(base + share), y.at(base));
                let (a, b) = (place(from), place(to));
                p.filled((a, high), (b - a + 0.4, low - high), colour);
            }
        }
        let base = below.last().copied().unwrap_or(0.0);
        let share = shares.last().copied().unwrap_or(0.0);
        labels.push((y.at(base + 0.5 * share), colour, layer.words.clone()));
        below.iter_mut().zip(&shares).for_each(|(b, s)| *b += s);
    }
    let grid: Vec<f64> = y.ticks(5);
    for tick in grid {
        let at = y.at(tick);
        p.line((LEFT - 4.0, at), (RIGHT, at), ink::GRID, 0.6);
        let text = format!("{} %", tick_text(100.0 * tick));
        p.text((LEFT - 8.0, at), text, 12.0, Anchor::End, ink::QUIET);
    }
    for tick in x.ticks(6) {
        let text = tick_text(tick);
        p.text(
            (x.at(tick), bottom + 14.0),
            text,
            12.0,
            Anchor::Middle,
            ink::QUIET,
        );
    }
    p.line((LEFT, bottom), (RIGHT, bottom), ink::QUIET, 1.0);
    p.text(
        (RIGHT, bottom + 32.0),
        format!("thousand {}", unit.word()),
        12.0,
        Anchor::End,
        ink::TEXT,
    );
    name_layers(&mut p, &labels, place(end), top, bottom);
    p.height = bottom + 48.0;
    p
}

fn layers(causes: &[CauseIncidence], end: i64) -> Vec<Layer> {
    let steps = |c: &CauseIncidence| -> Vec<(i64, f64)> {
        let inside = c.steps.iter().take_while(|s| s.distance_m <= end);
        inside.map(|s| (s.distance_m, s.share)).collect()
    };
    let words = |title: &str, steps: &[(i64, f64)]| {
        let share = steps.last().map_or(0.0, |s| s.1);
        format!("{title} {}", crate::answer::words::share(share))
    };
    let mut all: Vec<(&CauseIncidence, Vec<(i64, f64)>)> = causes
        .iter()
        .map(|c| (c, steps(c)))
        .filter(|(_, steps)| !steps.is_empty())
        .collect();
    let last = |s: &[(i64, f64)]| s.last().map_or(0.0, |s| s.1);
    all.sort_by(|a, b| {
        last(&b.1)
            .total_cmp(&last(&a.1))
            .then(a.0.cause.cmp(&b.0.cause))
    });
    let rest = all.split_off(all.len().min(MOST));
    let mut layers: Vec<Layer> = all
        .into_iter()
        .map(|(c, steps)| Layer {
            words: words(&c.title, &steps),
            steps,
        })
        .collect();
    if !rest.is_empty() {
        let mut at: Vec<i64> = rest.iter().flat_map(|r| r.1.iter().map(|s| s.0)).collect();
        at.sort_unstable();
        at.dedup();
        let sum = |m: i64| rest.iter().map(|(_, s)| share_at(s, m)).sum::<f64>();
        let steps: Vec<(i64, f64)> = at.into_iter().map(|m| (m, sum(m))).collect();
        layers.push(Layer {
            words: words(&format!("{} other causes", rest.len()), &steps),
            steps,
        });
    }
    layers
}

/// The share in force at a distance.
fn share_at(steps: &[(i64, f64)], at: i64) -> f64 {
    let passed = steps.partition_point(|s| s.0 <= at);
    passed
        .checked_sub(1)
        .and_then(|last| steps.get(last))
        .map_or(0.0, |s| s.1)
}

/// Names beside the layers they belong to, moved apart where layers are thin; first layer lowest.
fn name_layers(
    p: &mut Picture,
    labels: &[(f64, ink::Ink, String)],
    from: f64,
    top: f64,
    bottom: f64,
) {
    let mut places: Vec<f64> = labels.iter().map(|l| l.0).collect();
    let mut lowest = bottom - 4.0;
    for place in &mut places {
        *place = place.min(lowest);
        lowest = *place - LABEL;
    }
    // What was pushed out at the top comes back down, from the highest on.
    let mut highest = top + 4.0;
    for place in places.iter_mut().rev() {
        *place = place.max(highest);
        highest = *place + LABEL;
    }
    for ((middle, colour, words), place) in labels.iter().zip(places) {
        p.line(
            (from + 2.0, *middle),
            (RIGHT + 16.0, place),
            ink::QUIET,
            0.8,
        );
        p.filled((RIGHT + 18.0, place - 5.0), (10.0, 10.0), *colour);
        let fits = WIDTH - RIGHT - 44.0;
        let size = if text_width(words, 12.0) > fits {
            10.5
        } else {
            12.0
        };
        p.text(
            (RIGHT + 34.0, place),
            words.clone(),
            size,
            Anchor::Start,
            ink::TEXT,
        );
    }
}
