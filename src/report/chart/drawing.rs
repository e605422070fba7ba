//! A picture drawn: as SVG and, larger, as PNG, by plotters' backends.

use plotters::backend::{BitMapBackend, SVGBackend};
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{Circle, PathElement, Polygon, Rectangle, Text};
use plotters::prelude::DrawingBackend;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontStyle, RGBColor, ShapeStyle, TextStyle};

use super::ink::{Ink, PAPER};
use super::lettering::{FAMILY, fonts};
use super::picture::{Anchor, Mark, Picture};
use crate::domain::problem::{Problem, Result};

/// SVG coordinates are whole numbers in plotters, so they are drawn this much larger and scaled back by the view box.
const SVG_SCALE: f64 = 4.0;
/// PNG pixels a logical pixel.
const PNG_SCALE: f64 = 2.0;

impl Picture {
    /// As an SVG document.
    pub fn svg(&self) -> Result<String> {
        let mut out = String::new();
        let size = self.pixels(SVG_SCALE);
        {
            let area = SVGBackend::with_string(&mut out, size).into_drawing_area();
            self.draw(&area, SVG_SCALE)?;
        }
        let (_, body) = out
            .split_once("<svg ")
            .ok_or_else(|| failed("no picture came out"))?;
        let (_, body) = body
            .split_once('>')
            .ok_or_else(|| failed("no picture came out"))?;
        let label = maud::html! { title { (self.description) } }.into_string();
        Ok(format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" width=\"{}\" height=\"{}\" viewBox=\"0 0 {} {}\">\n{label}{body}",
            self.width.ceil(),
            self.height.ceil(),
            size.0,
            size.1
        ))
    }

    /// As a PNG file, twice the logical size.
    pub fn png(&self) -> Result<Vec<u8>> {
        let size = self.pixels(PNG_SCALE);
        let mut pixels = vec![0u8; 3 * size.0 as usize * size.1 as usize];
        {
            let area = BitMapBackend::with_buffer(&mut pixels, size).into_drawing_area();
            self.draw(&area, PNG_SCALE)?;
        }
        let mut bytes = Vec::new();
        // Flat areas compress best unfiltered.
        let encoder = image::codecs::png::PngEncoder::new_with_quality(
            &mut bytes,
            image::codecs::png::CompressionType::Default,
            image::codecs::png::FilterType::NoFilter,
        );
        image::ImageEncoder::write_image(encoder, &pixels, size.0, size.1, image::ColorType::Rgb8)
            .map_err(|e| failed(&e.to_string()))?;
        Ok(bytes)
    }

    fn pixels(&self, scale: f64) -> (u32, u32) {
        (
            (self.width * scale).ceil() as u32,
            (self.height * scale).ceil() as u32,
        )
    }

    fn draw<B: DrawingBackend>(&self, area: &DrawingArea<B, Shift>, scale: f64) -> Result<()> {
        fonts();
        area.fill(&rgb(PAPER)).map_err(|e| failed(&e.to_string()))?;
        for mark in &self.marks {
            draw_mark(area, mark, scale)?;
        }
        area.present().map_err(|e| failed(&e.to_string()))
    }
}

fn draw_mark<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    mark: &Mark,
    scale: f64,
) -> Result<()> {
    let at = |p: (f64, f64)| ((p.0 * scale).round() as i32, (p.1 * scale).round() as i32);
    let stroke = |ink: Ink, width: f64| ShapeStyle {
        color: rgb(ink).to_rgba(),
        filled: false,
        stroke_width: (width * scale).round().max(1.0) as u32,
    };
    let told = |e: plotters::drawing::DrawingAreaErrorKind<B::ErrorType>| failed(&e.to_string());
    match mark {
        Mark::Line {
            from,
            to,
            ink,
            width,
            dashed: false,
        } => area
            .draw(&PathElement::new(
                vec![at(*from), at(*to)],
                stroke(*ink, *width),
            ))
            .map_err(told),
        Mark::Line {
            from,
            to,
            ink,
            width,
            dashed: true,
        } => {
            for (a, b) in dashes(*from, *to) {
                area.draw(&PathElement::new(vec![at(a), at(b)], stroke(*ink, *width)))
                    .map_err(told)?;
            }
            Ok(())
        }
        Mark::Box { at: p, size, ink } => area
            .draw(&Rectangle::new(
                [at(*p), at((p.0 + size.0, p.1 + size.1))],
                rgb(*ink).filled(),
            ))
            .map_err(told),
        Mark::Hatched { at: p, size, ink } => {
            for (a, b) in hatch(*p, *size) {
                area.draw(&PathElement::new(vec![at(a), at(b)], stroke(*ink, 1.0)))
                    .map_err(told)?;
            }
            area.draw(&Rectangle::new(
                [at(*p), at((p.0 + size.0, p.1 + size.1))],
                stroke(*ink, 1.0),
            ))
            .map_err(told)
        }
        Mark::Disc { at: p, radius, ink } => area
            .draw(&Circle::new(
                at(*p),
                (radius * scale).round() as i32,
                rgb(*ink).filled(),
            ))
            .map_err(told),
        Mark::Shape { points, ink } => {
            let points: Vec<_> = points.iter().map(|p| at(*p)).collect();
            area.draw(&Polygon::new(points, rgb(*ink).filled()))
                .map_err(told)
        }
        Mark::Text {
            at: p,
            text,
            size,
            bold,
            anchor,
            ink,
        } => {
            let style = style(*size * scale, *bold, *anchor, *ink);
            area.draw(&Text::new(text.clone(), at(*p), style))
                .map_err(told)
        }
    }
}

fn style(size: f64, bold: bool, anchor: Anchor, ink: Ink) -> TextStyle<'static> {
    let h = match anchor {
        Anchor::Start => HPos::Left,
        Anchor::Middle => HPos::Center,
        Anchor::End => HPos::Right,
    };
    let weight = if bold {
        FontStyle::Bold
    } else {
        FontStyle::Normal
    };
    let mut style = TextStyle::from((FAMILY, size, weight)).pos(Pos::new(h, VPos::Center));
    style.color = rgb(ink).to_backend_color();
    style
}

fn rgb(ink: Ink) -> RGBColor {
    RGBColor(ink.0, ink.1, ink.2)
}

fn failed(why: &str) -> Problem {
    Problem::data(format!("could not draw a chart: {why}"))
}

fn dashes(from: (f64, f64), to: (f64, f64)) -> Vec<((f64, f64), (f64, f64))> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    let n = (length / 7.0).ceil().max(1.0);
    let point = |t: f64| (from.0 + dx * t, from.1 + dy * t);
    (0..n as usize)
        .map(|i| (point(i as f64 / n), point((i as f64 + 0.6) / n)))
        .collect()
}

/// Diagonal lines clipped to a box.
fn hatch(at: (f64, f64), size: (f64, f64)) -> Vec<((f64, f64), (f64, f64))> {
    let (w, h) = size;
    let mut lines = Vec::new();
    let mut offset = 5.0;
    while offset < w + h {
        let start = if offset <= w {
            (offset, 0.0)
        } else {
            (w, offset - w)
        };
        let end = if offset <= h {
            (0.0, offset)
        } else {
            (offset - h, h)
        };
        lines.push((
            (at.0 + start.0, at.1 + start.1),
            (at.0 + end.0, at.1 + end.1),
        ));
        offset += 5.0;
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_from_data_is_escaped_and_both_formats_come_out() {
        let mut picture = Picture::new(120.0, 40.0, "a <b> & c");
        picture.text(
            (10.0, 20.0),
            "x < y & \"z\"",
            12.0,
            Anchor::Start,
            super::super::ink::TEXT,
        );
        let svg = picture.svg().unwrap();
        assert!(svg.contains("<title>a &lt;b&gt; &amp; c</title>"), "{svg}");
        assert!(svg.contains("x &lt; y &amp;"), "{svg}");
        let png = picture.png().unwrap();
        assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
        assert_eq!(
            picture.png().unwrap(),
            png,
            "the same picture must give the same bytes"
        );
    }
}
