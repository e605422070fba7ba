//! Forest plot: one row a cell, a point with its interval, the counts behind it written beside it.
//!
//! Serves rates (with a line for all together) and shares; what differs is only how a value is written.

use super::axis::{Scale, end_for, tick_text};
use super::ink;
use super::lettering::text_width;
use super::picture::{Anchor, Picture};
use crate::answer::parts::Estimate;

/// One row of the plot.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// What it is.
    pub label: String,
    /// Point and interval; a row without one says so.
    pub estimate: Option<Estimate>,
    /// Wider interval drawn thin behind, where it applies.
    pub wider: Option<Estimate>,
    /// Counts in words, at the right.
    pub counts: String,
    /// Whether it stands apart from the rest.
    pub apart: bool,
}

/// The whole plot.
#[derive(Debug, Clone, PartialEq)]
pub struct Forest {
    /// The question.
    pub title: String,
    /// Verdict and basis, under the title.
    pub lines: Vec<String>,
    /// Unit under the axis.
    pub unit: String,
    /// Heading of the counts.
    pub counts_title: String,
    /// Value of all together: a dashed line.
    pub reference: Option<f64>,
    /// Whether values are shares of one, written in percent.
    pub percent: bool,
    /// Rows, top first.
    pub rows: Vec<Row>,
}

const WIDTH: f64 = 900.0;
const ROW: f64 = 24.0;

/// Draws it.
pub fn picture(forest: &Forest) -> Picture {
    let widest = |texts: Vec<&str>| {
        texts
            .into_iter()
            .map(|t| text_width(t, 13.0))
            .fold(0.0, f64::max)
    };
    let label_width = widest(forest.rows.iter().map(|r| r.label.as_str()).collect()).min(320.0);
    let counts_width = widest(
        forest
            .rows
            .iter()
            .map(|r| r.counts.as_str())
            .chain([forest.counts_title.as_str()])
            .collect(),
    );
    let mut p = Picture::titled(WIDTH, &forest.title, &forest.lines);
    let top = p.heading(&forest.title, &forest.lines) + 20.0;
    let bottom = top + ROW * forest.rows.len() as f64;
    let (left, right) = (12.0 + label_width + 18.0, WIDTH - counts_width - 30.0);
    let scale = Scale::new(0.0, axis_end(forest), left, right);
    p.text(
        (WIDTH - 12.0, top - 12.0),
        forest.counts_title.clone(),
        12.0,
        Anchor::End,
        ink::QUIET,
    );
    axis(&mut p, forest, &scale, top, bottom);
    for (i, row) in forest.rows.iter().enumerate() {
        let y = top + ROW * (i as f64 + 0.5);
        draw_row(&mut p, row, &scale, y, (left, right));
    }
    p.height = bottom + 52.0;
    p
}

/// Ends a little past the largest point or the bulk of upper limits; limits beyond it become arrows.
fn axis_end(forest: &Forest) -> f64 {
    let points = forest
        .rows
        .iter()
        .filter_map(|r| r.estimate.as_ref())
        .map(|e| e.value)
        .fold(0.0, f64::max);
    let mut uppers: Vec<f64> = forest
        .rows
        .iter()
        .filter_map(|r| r.estimate.as_ref())
        .filter_map(|e| e.upper)
        .filter(|u| u.is_finite())
        .collect();
    uppers.sort_by(f64::total_cmp);
    let bulk = uppers
        .get((uppers.len().saturating_sub(1)) * 3 / 4)
        .copied()
        .unwrap_or(1.0);
    let wanted = (points * 1.15)
        .max(bulk * 1.25)
        .max(forest.reference.unwrap_or(0.0) * 1.2);
    let largest = uppers.last().copied().unwrap_or(wanted);
    let end = end_for(
        if largest <= wanted * 1.6 {
            largest
        } else {
            wanted
        },
        6,
    );
    if forest.percent { end.min(1.0) } else { end }
}

fn axis(p: &mut Picture, forest: &Forest, scale: &Scale, top: f64, bottom: f64) {
    for tick in scale.ticks(6) {
        let x = scale.at(tick);
        p.line((x, top), (x, bottom), ink::GRID, 1.0);
        let text = if forest.percent {
            format!("{} %", tick_text(100.0 * tick))
        } else {
            tick_text(tick)
        };
        p.text((x, bottom + 14.0), text, 12.0, Anchor::Middle, ink::QUIET);
    }
    let middle = (scale.at(0.0) + scale.at(f64::MAX)) / 2.0;
    p.text(
        (middle, bottom + 36.0),
        forest.unit.clone(),
        13.0,
        Anchor::Middle,
        ink::TEXT,
    );
    if let Some(reference) = forest.reference {
        let x = scale.at(reference);
        p.dashed((x, top - 4.0), (x, bottom), ink::TEXT, 1.2);
        p.text(
            (x, top - 12.0),
            "all together",
            12.0,
            Anchor::Middle,
            ink::TEXT,
        );
    }
}

fn draw_row(p: &mut Picture, row: &Row, scale: &Scale, y: f64, (left, right): (f64, f64)) {
    let colour = if row.apart { ink::APART } else { ink::MAIN };
    p.text(
        (left - 18.0, y),
        row.label.clone(),
        13.0,
        Anchor::End,
        ink::TEXT,
    );
    p.text(
        (WIDTH - 12.0, y),
        row.counts.clone(),
        13.0,
        Anchor::End,
        ink::TEXT,
    );
    let Some(e) = &row.estimate else {
        p.text(
            (left + 6.0, y),
            "no distance under observation",
            12.0,
            Anchor::Start,
            ink::QUIET,
        );
        return;
    };
    if let Some(wider) = &row.wider {
        whisker(p, wider, scale, y, ink::QUIET, 1.0, right);
    }
    whisker(p, e, scale, y, colour, 2.4, right);
    let x = scale.at(e.value);
    // A square for what stands apart, a disc for the rest: the difference must survive grey print.
    if row.apart {
        p.filled((x - 5.5, y - 5.5), (11.0, 11.0), colour);
    } else {
        p.marks.push(super::picture::Mark::Disc {
            at: (x, y),
            radius: 5.0,
            ink: colour,
        });
    }
}

fn whisker(
    p: &mut Picture,
    e: &Estimate,
    scale: &Scale,
    y: f64,
    colour: ink::Ink,
    width: f64,
    right: f64,
) {
    let upper = e.upper.unwrap_or(f64::INFINITY);
    let (from, to) = (scale.at(e.lower), scale.at(upper));
    p.line((from, y), (to, y), colour, width);
    if scale.beyond(upper) {
        let points = vec![
            (right + 7.0, y),
            (right - 1.0, y - 4.5),
            (right - 1.0, y + 4.5),
        ];
        p.marks.push(super::picture::Mark::Shape {
            points,
            ink: colour,
        });
    } else {
        p.line((to, y - 4.0), (to, y + 4.0), colour, width.min(1.6));
    }
    p.line((from, y - 4.0), (from, y + 4.0), colour, width.min(1.6));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn estimate(value: f64, lower: f64, upper: f64) -> Option<Estimate> {
        Some(Estimate {
            value,
            lower,
            upper: Some(upper),
            level: 0.95,
            method: "garwood".into(),
        })
    }

    #[test]
    fn a_limit_beyond_the_axis_becomes_an_arrow_and_not_a_longer_axis() {
        let row = |label: &str, estimate| Row {
            label: label.into(),
            estimate,
            wider: None,
            counts: "3 in 1000".into(),
            apart: false,
        };
        let forest = Forest {
            title: "t".into(),
            lines: vec![],
            unit: "u".into(),
            counts_title: "failures".into(),
            reference: Some(1.0),
            percent: false,
            rows: vec![
                row("a", estimate(1.0, 0.5, 2.0)),
                row("b", estimate(1.2, 0.6, 2.2)),
                row("c", estimate(1.1, 0.6, 2.1)),
                row("tiny", estimate(0.0, 0.0, 400.0)),
                row("none", None),
            ],
        };
        assert!(axis_end(&forest) < 10.0);
        let marks = picture(&forest).marks;
        let arrows = marks
            .iter()
            .filter(|m| matches!(m, super::super::picture::Mark::Shape { .. }))
            .count();
        assert_eq!(arrows, 1);
    }
}
