//! The letters of charts: their fonts, how wide a text is, and where it is broken.

use std::sync::Once;

use plotters::style::{FontStyle, register_font};

/// Name the fonts are registered under.
pub(super) const FAMILY: &str = "sans-serif";

/// Registers the project's own fonts, so that a picture does not depend on the machine's.
pub(super) fn fonts() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // A font that cannot be read shows in the first drawing, which then fails with the reason.
        let _ = register_font(
            FAMILY,
            FontStyle::Normal,
            include_bytes!("font/DejaVuSans.subset.ttf"),
        );
        let _ = register_font(
            FAMILY,
            FontStyle::Bold,
            include_bytes!("font/DejaVuSans-Bold.subset.ttf"),
        );
    });
}

/// Width of a text in logical pixels.
pub fn text_width(text: &str, size: f64) -> f64 {
    fonts();
    // Measured at ten times the size, since the backend counts whole pixels.
    let font = plotters::style::FontDesc::new(
        plotters::style::FontFamily::Name(FAMILY),
        10.0 * size,
        FontStyle::Normal,
    );
    font.box_size(text)
        .map_or(0.6 * size * text.chars().count() as f64, |(w, _)| {
            f64::from(w) / 10.0
        })
}

/// A text broken at spaces so that each line fits.
pub fn wrapped(text: &str, size: f64, width: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if text_width(&format!("{line} {word}"), size) <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_wrap_inside_the_width() {
        let lines = wrapped("one two three four five six seven", 13.0, 80.0);
        assert!(lines.len() > 1);
        assert!(lines.iter().all(|l| text_width(l, 13.0) <= 80.0));
    }
}
