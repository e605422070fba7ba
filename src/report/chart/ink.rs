//! Colours: Okabe & Ito (2008), "Color Universal Design", chosen so that the ones used together also differ in grey.

/// Red, green, blue.
pub type Ink = (u8, u8, u8);

/// Text and axes.
pub const TEXT: Ink = (34, 34, 34);
/// Notes and grid lines that must stay behind.
pub const QUIET: Ink = (110, 110, 110);
/// Grid lines.
pub const GRID: Ink = (222, 222, 222);
/// Paper.
pub const PAPER: Ink = (255, 255, 255);
/// What the chart is about (blue).
pub const MAIN: Ink = (0, 114, 178);
/// What stands apart (vermilion).
pub const APART: Ink = (213, 94, 0);
/// Amounts behind the main thing (light grey-blue).
pub const BEHIND: Ink = (190, 205, 216);
/// Unknown.
pub const UNKNOWN: Ink = (150, 150, 150);

/// Blue of rising darkness for a share of the way from 0 to 1: one hue, so that grey print keeps the order.
pub fn ramp(t: f64) -> Ink {
    let t = t.clamp(0.0, 1.0);
    let mix = |light: f64, dark: f64| (light + (dark - light) * t).round() as u8;
    (mix(240.0, 8.0), mix(246.0, 64.0), mix(251.0, 115.0))
}

/// A colour thinned with paper: 1 keeps it, 0 leaves paper.
pub fn mixed(colour: Ink, share: f64) -> Ink {
    let mix = |ink: u8, paper: u8| {
        let (ink, paper) = (f64::from(ink), f64::from(paper));
        (paper + (ink - paper) * share.clamp(0.0, 1.0)).round() as u8
    };
    (
        mix(colour.0, PAPER.0),
        mix(colour.1, PAPER.1),
        mix(colour.2, PAPER.2),
    )
}

/// Black or white, whichever can be read on `ground`.
pub fn on(ground: Ink) -> Ink {
    let brightness =
        0.299 * f64::from(ground.0) + 0.587 * f64::from(ground.1) + 0.114 * f64::from(ground.2);
    if brightness > 140.0 { TEXT } else { PAPER }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grey(i: Ink) -> f64 {
        0.299 * f64::from(i.0) + 0.587 * f64::from(i.1) + 0.114 * f64::from(i.2)
    }

    #[test]
    fn the_ramp_darkens_in_grey_too() {
        let greys: Vec<f64> = (0..=10).map(|i| grey(ramp(f64::from(i) / 10.0))).collect();
        assert!(greys.windows(2).all(|w| w[0] > w[1] + 5.0), "{greys:?}");
    }

    #[test]
    fn colours_used_together_differ_in_grey() {
        assert!((grey(MAIN) - grey(APART)).abs() > 20.0);
        assert!((grey(MAIN) - grey(BEHIND)).abs() > 60.0);
    }
}
