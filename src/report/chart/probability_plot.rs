//! Weibull paper: failures and the fitted line on axes where a Weibull distribution is straight.

use super::ink;
use super::picture::{Anchor, Mark, Picture};
use crate::answer::life::Life;
use crate::answer::life::types::{GroupLife, WeibullPaper};
use crate::report::render::number;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 84.0;
const RIGHT: f64 = 872.0;
const HIGH: f64 = 320.0;
/// Shares marked on the vertical axis.
const SHARES: [f64; 10] = [0.001, 0.005, 0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.99];

/// The chart of one group; none without a Weibull fit.
pub fn chart(life: &Life, group: &GroupLife, title: &str) -> Option<Picture> {
    let paper = group.drawn.paper.as_ref()?;
    let first = paper.points.first()?;
    let last = paper.points.last()?;
    let fit = group.fits.iter().find(|f| f.distribution == "weibull")?;
    let shape = fit.parameters.iter().find(|p| p.name == "shape")?;
    let mut lines = vec![format!(
        "Points on a straight line speak for a Weibull life; a bend, for a mixture or another law. n = {} failures; shape {} ({}).",
        group.evidence.events,
        crate::answer::words::number(shape.estimate.value),
        crate::answer::words::interval(&shape.estimate)
    )];
    if let Some(p) = fit.goodness.as_ref().and_then(|g| g.p) {
        lines.push(format!(
            "Failures by band against those the line expects: p = {} {}.",
            number::p_value(p),
            if p < 0.05 {
                "(the line does not describe them)"
            } else {
                "(nothing speaks against the line)"
            }
        ));
    }
    let mut p = Picture::titled(WIDTH, title, &lines);
    let top = p.heading(title, &lines) + 10.0;
    let bottom = top + HIGH;
    let axes = Axes::new(paper, first.0, last.0, top, bottom);
    axes.draw(&mut p, life, bottom);
    let end = group.well_filled_to_m.unwrap_or(last.0).max(first.0);
    axes.fit(&mut p, paper, first.0, end);
    for (m, height) in &paper.points {
        p.marks.push(Mark::Disc {
            at: (axes.x(*m), axes.y(*height)),
            radius: 3.2,
            ink: ink::MAIN,
        });
    }
    p.height = bottom + 48.0;
    Some(p)
}

/// Logarithmic distance across, ln(-ln(1 - F)) up.
struct Axes {
    from: f64,
    to: f64,
    low: f64,
    high: f64,
    top: f64,
    bottom: f64,
}

impl Axes {
    fn new(paper: &WeibullPaper, first: i64, last: i64, top: f64, bottom: f64) -> Self {
        let heights = paper.points.iter().map(|p| p.1);
        let low = heights.clone().fold(f64::INFINITY, f64::min);
        let high = heights.fold(f64::NEG_INFINITY, f64::max);
        let (from, to) = ((first as f64).ln(), (last as f64).ln());
        let margin = (0.04 * (to - from)).max(0.05);
        Self {
            from: from - margin,
            to: to + margin,
            low: low - 0.4,
            high: high + 0.4,
            top,
            bottom,
        }
    }

    fn x(&self, metres: i64) -> f64 {
        let share = ((metres as f64).ln() - self.from) / (self.to - self.from);
        LEFT + share * (RIGHT - LEFT)
    }

    fn y(&self, height: f64) -> f64 {
        self.bottom - (height - self.low) / (self.high - self.low) * (self.bottom - self.top)
    }

    fn draw(&self, p: &mut Picture, life: &Life, bottom: f64) {
        for share in SHARES {
            let height = (-f64::ln_1p(-share)).ln();
            if (self.low..self.high).contains(&height) {
                let y = self.y(height);
                p.line((LEFT, y), (RIGHT, y), ink::GRID, 1.0);
                let text = crate::answer::words::share(share);
                p.text((LEFT - 8.0, y), text, 12.0, Anchor::End, ink::QUIET);
            }
        }
        let unit = life.unit();
        for power in 0..8 {
            for digit in [1.0, 2.0, 5.0] {
                let distance = digit * 10f64.powi(power);
                let metres = unit.to_metres(distance).unwrap_or(0);
                let log = (metres as f64).ln();
                if (self.from..self.to).contains(&log) {
                    let x = self.x(metres);
                    p.line((x, self.top), (x, bottom), ink::GRID, 1.0);
                    let text = number::grouped(distance as i64);
                    p.text((x, bottom + 14.0), text, 12.0, Anchor::Middle, ink::QUIET);
                }
            }
        }
        p.line((LEFT, bottom), (RIGHT, bottom), ink::QUIET, 1.0);
        p.text(
            (RIGHT, bottom + 32.0),
            format!("{} (logarithmic)", unit.word()),
            12.0,
            Anchor::End,
            ink::TEXT,
        );
        p.text(
            (LEFT, self.top - 4.0),
            "failed so far (Weibull scale)",
            12.0,
            Anchor::Start,
            ink::TEXT,
        );
    }

    /// The fitted line, solid as far as the data are well filled.
    fn fit(&self, p: &mut Picture, paper: &WeibullPaper, from: i64, to: i64) {
        let height = |m: i64| ((m as f64).ln() - paper.location) / paper.sigma;
        let inside = |h: f64| h.clamp(self.low, self.high);
        // Where the line leaves the paper its end is moved along it.
        let at = |m: i64| {
            let h = inside(height(m));
            let log = paper.location + paper.sigma * h;
            let share = (log - self.from) / (self.to - self.from);
            (LEFT + share.clamp(0.0, 1.0) * (RIGHT - LEFT), self.y(h))
        };
        p.line(at(from), at(to), ink::APART, 2.0);
    }
}
