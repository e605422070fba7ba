//! Mileage bands: half-open ranges of odometer distance, the last one open-ended.
//!
//! Edges are whole metres made by the same conversion as readings, so that a reading which equals an edge in the
//! user's unit always falls into the band above it.

use crate::domain::distance::{DistanceUnit, UnitSystem};
use crate::domain::problem::{Problem, Result};

/// Bands `[edge i, edge i+1)`; the last band has no upper end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MileageBands {
    /// Lower edges in metres, strictly increasing, the first 0.
    pub edges: Vec<i64>,
    /// The unit the edges were given in and are labelled in.
    pub unit: DistanceUnit,
}

impl MileageBands {
    /// 0, 80, 160, 240, 320, 400 thousand km or 0, 50, 100, 150, 200, 250 thousand miles.
    pub fn default_for(system: UnitSystem) -> Self {
        let unit = system.distance();
        let step = match unit {
            DistanceUnit::Kilometre => 80_000.0,
            DistanceUnit::Mile => 50_000.0,
        };
        let edges = (0..6)
            .filter_map(|i| unit.to_metres(f64::from(i) * step))
            .collect();
        Self { edges, unit }
    }

    /// Reads `--band`: edges in thousands of `unit`, separated by commas, semicolons, spaces or hyphens
    /// (`0,50,100` or `0-80-160`); the last band is open-ended.
    ///
    /// # Errors
    /// A part that is no number, a negative or infinite edge, a first edge other than 0, edges that do not increase.
    pub fn parse(text: &str, unit: DistanceUnit) -> Result<Self> {
        let wrong = |what: String| {
            Problem::usage(what)
                .field("--band")
                .value(text)
                .remedy(format!(
                    "give increasing edges in thousand {} that begin with 0, for instance 0,50,100",
                    unit.word()
                ))
        };
        let mut edges: Vec<i64> = Vec::new();
        for part in split(text) {
            let thousands: f64 = part
                .parse()
                .map_err(|_| wrong(format!("the edge {part:?} is not a number")))?;
            if thousands < 0.0 {
                return Err(wrong(format!("the edge {part} is negative")));
            }
            let edge = unit
                .to_metres(thousands * 1000.0)
                .ok_or_else(|| wrong(format!("the edge {part} is no distance")))?;
            match edges.last() {
                None if edge != 0 => {
                    return Err(wrong(format!("the first edge is {part}, not 0")));
                }
                Some(&before) if edge <= before => {
                    return Err(wrong(format!(
                        "the edge {part} is not above the one before it"
                    )));
                }
                _ => edges.push(edge),
            }
        }
        if edges.is_empty() {
            return Err(wrong("there is no edge in it".to_owned()));
        }
        Ok(Self { edges, unit })
    }

    /// How many bands there are; at least one.
    pub fn len(&self) -> usize {
        self.edges.len()
    }

    /// Never true of bands made by this module.
    pub fn is_empty(&self) -> bool {
        self.edges.is_empty()
    }

    /// The band a distance in metres falls into; `None` below the first edge.
    pub fn index_of(&self, metres: i64) -> Option<usize> {
        self.edges
            .partition_point(|edge| *edge <= metres)
            .checked_sub(1)
    }

    /// Lower edge, and upper edge or `None` for the open-ended last band, in metres.
    ///
    /// An index beyond the last band gives an empty open band above everything.
    pub fn bounds(&self, band: usize) -> (i64, Option<i64>) {
        let lower = self.edges.get(band).copied().unwrap_or(i64::MAX);
        (lower, self.edges.get(band + 1).copied())
    }

    /// "80-160 thousand km", "400 thousand km and over".
    pub fn label(&self, band: usize) -> String {
        let unit = self.unit.word();
        match self.bounds(band) {
            (lower, Some(upper)) => {
                format!(
                    "{}-{} thousand {unit}",
                    self.thousands(lower),
                    self.thousands(upper)
                )
            }
            (lower, None) => format!("{} thousand {unit} and over", self.thousands(lower)),
        }
    }

    /// The edges in thousands of the unit, as `--band` takes them.
    pub fn edges_text(&self) -> String {
        let edges: Vec<String> = self.edges.iter().map(|e| self.thousands(*e)).collect();
        edges.join(",")
    }

    /// Metres in thousands of the unit, to the whole unit, without needless zeros.
    fn thousands(&self, metres: i64) -> String {
        let text = format!("{:.3}", self.unit.from_metres(metres) / 1000.0);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    }
}

/// The parts between separators. A hyphen separates unless it begins a part, where it is the sign of the number.
fn split(text: &str) -> Vec<String> {
    let mut parts = vec![String::new()];
    for c in text.chars() {
        let open = parts.last().is_some_and(String::is_empty);
        match c {
            ',' | ';' | ' ' => parts.push(String::new()),
            '-' if !open => parts.push(String::new()),
            c => {
                if let Some(last) = parts.last_mut() {
                    last.push(c);
                }
            }
        }
    }
    parts.retain(|p| !p.is_empty());
    parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn defaults_are_the_documented_edges() {
        let km = MileageBands::default_for(UnitSystem::Metric);
        assert_eq!(km.edges_text(), "0,80,160,240,320,400");
        assert_eq!(km.label(1), "80-160 thousand km");
        assert_eq!(km.label(5), "400 thousand km and over");
        let miles = MileageBands::default_for(UnitSystem::Us);
        assert_eq!(miles.edges_text(), "0,50,100,150,200,250");
        assert_eq!(miles.label(0), "0-50 thousand miles");
        // Closed form: 50,000 x 1,609.344 m.
        assert_eq!(miles.bounds(0), (0, Some(80_467_200)));
        assert_eq!(miles.bounds(5).1, None);
        assert_eq!(miles.len(), 6);
    }

    #[test]
    fn an_edge_belongs_to_the_band_above() {
        let bands = MileageBands::default_for(UnitSystem::Us);
        let edge = DistanceUnit::Mile.to_metres(100_000.0).expect("a distance");
        assert_eq!(bands.index_of(edge), Some(2));
        assert_eq!(bands.index_of(edge - 1), Some(1));
        assert_eq!(bands.index_of(-1), None);
        assert_eq!(bands.index_of(i64::MAX), Some(5));
    }

    #[test]
    fn reads_what_a_user_types() {
        for text in ["0,50,100", "0-50-100", "0; 50; 100", "0 50 100"] {
            let bands = MileageBands::parse(text, DistanceUnit::Kilometre).expect(text);
            assert_eq!(bands.edges, [0, 50_000_000, 100_000_000], "{text}");
        }
        let odd = MileageBands::parse("0,62.5", DistanceUnit::Mile).expect("decimals");
        assert_eq!(odd.label(0), "0-62.5 thousand miles");
        assert_eq!(
            MileageBands::parse("0", DistanceUnit::Kilometre).map(|b| b.label(0)),
            Ok("0 thousand km and over".to_owned())
        );
    }

    #[test]
    fn refuses_what_is_no_band() {
        for (text, needle) in [
            ("0,100,50", "not above"),
            ("0,50,50", "not above"),
            ("-10,0,50", "negative"),
            ("0,-50", "negative"),
            ("10,50", "not 0"),
            ("0,ten", "not a number"),
            ("0,inf", "no distance"),
            ("0,NaN", "no distance"),
            ("", "no edge"),
        ] {
            let problem = MileageBands::parse(text, DistanceUnit::Mile).expect_err(text);
            assert!(problem.to_string().contains(needle), "{text}: {problem}");
        }
    }

    proptest! {
        /// Every distance lies within the bounds of its band.
        #[test]
        fn bounds_hold_what_index_finds(metres in 0i64..1_000_000_000) {
            for system in [UnitSystem::Metric, UnitSystem::Us] {
                let bands = MileageBands::default_for(system);
                let (lower, upper) = bands.bounds(bands.index_of(metres).expect("not negative"));
                prop_assert!(lower <= metres && upper.is_none_or(|u| metres < u));
            }
        }
    }
}
