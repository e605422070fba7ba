//! A chart as a list of marks in logical pixels, drawn once for SVG and once, larger, for PNG.
//!
//! Keeping the marks apart from the backend lets a test look at what a chart shows, and both formats show the same.

use super::ink::Ink;
use super::lettering::wrapped;

/// Where a text sits relative to its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Starts there.
    Start,
    /// Is centred there.
    Middle,
    /// Ends there.
    End,
}

/// One thing drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// Straight line.
    Line {
        from: (f64, f64),
        to: (f64, f64),
        ink: Ink,
        width: f64,
        dashed: bool,
    },
    /// Filled box.
    Box {
        at: (f64, f64),
        size: (f64, f64),
        ink: Ink,
    },
    /// Box of diagonal lines: unknown, readable in grey.
    Hatched {
        at: (f64, f64),
        size: (f64, f64),
        ink: Ink,
    },
    /// Filled disc.
    Disc {
        at: (f64, f64),
        radius: f64,
        ink: Ink,
    },
    /// Filled shape.
    Shape { points: Vec<(f64, f64)>, ink: Ink },
    /// One line of text, vertically centred on its point.
    Text {
        at: (f64, f64),
        text: String,
        size: f64,
        bold: bool,
        anchor: Anchor,
        ink: Ink,
    },
}

/// A finished chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Logical width.
    pub width: f64,
    /// Logical height.
    pub height: f64,
    /// One sentence for those who cannot see it.
    pub description: String,
    /// What is drawn, back to front.
    pub marks: Vec<Mark>,
}

impl Picture {
    /// An empty sheet.
    pub fn new(width: f64, height: f64, description: impl Into<String>) -> Self {
        Self {
            width,
            height,
            description: description.into(),
            marks: Vec::new(),
        }
    }

    /// An empty sheet, as wide as given and not yet of any height, described by its title and the lines under it.
    pub fn titled(width: f64, title: impl AsRef<str>, lines: &[String]) -> Self {
        let title = title.as_ref();
        let mark = if title.ends_with('?') { "" } else { "." };
        Self::new(width, 0.0, format!("{title}{mark} {}", lines.join(" ")))
    }

    /// A solid line.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), ink: Ink, width: f64) {
        self.marks.push(Mark::Line {
            from,
            to,
            ink,
            width,
            dashed: false,
        });
    }

    /// A dashed line.
    pub fn dashed(&mut self, from: (f64, f64), to: (f64, f64), ink: Ink, width: f64) {
        self.marks.push(Mark::Line {
            from,
            to,
            ink,
            width,
            dashed: true,
        });
    }

    /// A filled box.
    pub fn filled(&mut self, at: (f64, f64), size: (f64, f64), ink: Ink) {
        self.marks.push(Mark::Box { at, size, ink });
    }

    /// Text.
    pub fn text(
        &mut self,
        at: (f64, f64),
        text: impl Into<String>,
        size: f64,
        anchor: Anchor,
        ink: Ink,
    ) {
        self.marks.push(Mark::Text {
            at,
            text: text.into(),
            size,
            bold: false,
            anchor,
            ink,
        });
    }

    /// Bold text.
    pub fn bold(
        &mut self,
        at: (f64, f64),
        text: impl Into<String>,
        size: f64,
        anchor: Anchor,
        ink: Ink,
    ) {
        self.marks.push(Mark::Text {
            at,
            text: text.into(),
            size,
            bold: true,
            anchor,
            ink,
        });
    }

    /// Title, then lines of quiet text under it; gives the y below them.
    pub fn heading(&mut self, title: &str, lines: &[String]) -> f64 {
        let mut y = 20.0;
        for part in wrapped(title, 17.0, self.width - 24.0) {
            self.bold((12.0, y), part, 17.0, Anchor::Start, super::ink::TEXT);
            y += 22.0;
        }
        for line in lines {
            for part in wrapped(line, 13.0, self.width - 24.0) {
                self.text((12.0, y), part, 13.0, Anchor::Start, super::ink::QUIET);
                y += 18.0;
            }
        }
        y + 4.0
    }
}
