//! Scales and ticks: from values to places, with round numbers a person would choose.

/// A linear scale from values to places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    from: f64,
    to: f64,
    start: f64,
    end: f64,
}

impl Scale {
    /// Values `from..to` onto places `start..end`.
    pub fn new(from: f64, to: f64, start: f64, end: f64) -> Self {
        Self {
            from,
            to: if to > from { to } else { from + 1.0 },
            start,
            end,
        }
    }

    /// Place of a value, held inside the scale.
    pub fn at(&self, value: f64) -> f64 {
        let t = ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0);
        self.start + t * (self.end - self.start)
    }

    /// Whether a value lies beyond the end.
    pub fn beyond(&self, value: f64) -> bool {
        value > self.to
    }

    /// Round values inside the scale, about `wanted` of them.
    pub fn ticks(&self, wanted: usize) -> Vec<f64> {
        let step = round_step((self.to - self.from) / wanted.max(1) as f64);
        let first = (self.from / step).ceil() as i64;
        let last = (self.to / step + 1e-9).floor() as i64;
        (first..=last).map(|i| i as f64 * step).collect()
    }
}

/// The smallest of 1, 2, 5 times a power of ten that is not below `raw`.
fn round_step(raw: f64) -> f64 {
    let power = 10f64.powf(raw.abs().max(1e-300).log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|m| m * power)
        .find(|s| *s >= raw * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

/// The tick at or above a value: where an axis that must show it ends.
pub fn end_for(value: f64, wanted: usize) -> f64 {
    if value <= 0.0 {
        return 1.0;
    }
    let step = round_step(value / wanted.max(1) as f64);
    (value / step - 1e-9).ceil() * step
}

/// A tick's text: as few digits as its size needs.
pub fn tick_text(value: f64) -> String {
    if value == 0.0 {
        return "0".to_string();
    }
    let rounded = format!("{value:.10}");
    rounded
        .trim_end_matches('0')
        .trim_end_matches('.')
        .to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_cover() {
        let scale = Scale::new(0.0, 0.7, 0.0, 100.0);
        assert_eq!(
            scale
                .ticks(4)
                .iter()
                .map(|t| tick_text(*t))
                .collect::<Vec<_>>(),
            ["0", "0.2", "0.4", "0.6"]
        );
        assert_eq!(end_for(0.63, 5), 0.8);
        assert_eq!(end_for(12.0, 5), 15.0);
        assert_eq!(scale.at(0.35), 50.0);
        assert!(scale.beyond(0.8) && scale.at(0.8) == 100.0);
    }
}
