//! Distance driven and the two unit systems people read it in.
//!
//! Odometers are kept as whole metres so that sums of exposure are exact and the same in any order. This file holds
//! the only conversion between metres and what a person reads or types; band edges pass through it as well, so that
//! a reading of exactly 100,000 miles and the edge "100 thousand miles" are the same number.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::domain::problem::{Problem, Result};
use crate::domain::suggestion::closest;
use crate::domain::unit::Unit;

/// A distance or odometer reading in whole metres.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Metres(pub i64);

impl Metres {
    /// The distance in `unit`.
    pub fn in_unit(self, unit: DistanceUnit) -> f64 {
        unit.from_metres(self.0)
    }
}

/// What an odometer counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum DistanceUnit {
    /// 1,000 m.
    #[serde(rename = "km")]
    Kilometre,
    /// The international mile, 1,609.344 m exactly (NIST SP 811, appendix B).
    #[serde(rename = "mi")]
    Mile,
}

/// Beyond this many metres (ten thousand million km) no distance is meant, and sums of 64-bit metres stay safe.
const LARGEST_M: f64 = 1e13;

impl DistanceUnit {
    /// Both units.
    pub const ALL: [DistanceUnit; 2] = [DistanceUnit::Kilometre, DistanceUnit::Mile];

    /// Reads the spellings found in exports, in any case, with or without a full stop; `None` for anything else.
    ///
    /// A bare "m" may mean miles or metres and a bare "k" kilometres or thousands: neither is guessed.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim().trim_end_matches('.').to_lowercase();
        match text.as_str() {
            "km" | "kms" | "kilometre" | "kilometres" | "kilometer" | "kilometers"
            | "kilómetro" | "kilómetros" | "kilometro" | "kilometros" | "chilometri"
            | "kilomètre" | "kilomètres" => Some(Self::Kilometre),
            "mi" | "mile" | "miles" | "mls" | "meile" | "meilen" | "milla" | "millas"
            | "miglia" | "mijl" | "mijlen" => Some(Self::Mile),
            _ => None,
        }
    }

    /// One of this unit in metres, exactly.
    pub fn metres_per_unit(self) -> f64 {
        match self {
            Self::Kilometre => 1000.0,
            Self::Mile => 1609.344,
        }
    }

    /// Whole metres, rounded half away from zero; `None` if the value is not finite or no distance is that long.
    pub fn to_metres(self, value: f64) -> Option<i64> {
        let metres = (value * self.metres_per_unit()).round();
        // The comparison is false for NaN, and within the limit the cast is exact.
        (metres.abs() <= LARGEST_M).then_some(metres as i64)
    }

    /// The distance in this unit.
    pub fn from_metres(self, metres: i64) -> f64 {
        metres as f64 / self.metres_per_unit()
    }

    /// "km" or "mi".
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Kilometre => "km",
            Self::Mile => "mi",
        }
    }

    /// The word in running text: "km" or "miles".
    pub fn word(self) -> &'static str {
        match self {
            Self::Kilometre => "km",
            Self::Mile => "miles",
        }
    }
}

impl fmt::Display for DistanceUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

/// The units a person wants to see (`--units`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum UnitSystem {
    /// Kilometres and kilopascals.
    #[default]
    Metric,
    /// Miles and pounds-force per square inch.
    Us,
}

impl UnitSystem {
    /// Reads the value of `--units`.
    pub fn parse(text: &str) -> Result<Self> {
        match text.trim().to_ascii_lowercase().as_str() {
            "metric" | "si" => Ok(Self::Metric),
            "us" | "imperial" => Ok(Self::Us),
            other => {
                let hint = closest(other, ["metric", "us"])
                    .map(|w| format!(" (did you mean {w}?)"))
                    .unwrap_or_default();
                Err(
                    Problem::usage(format!("there is no such system of units{hint}"))
                        .field("--units")
                        .value(text)
                        .remedy("use metric or us"),
                )
            }
        }
    }

    /// The unit of distance.
    pub fn distance(self) -> DistanceUnit {
        match self {
            Self::Metric => DistanceUnit::Kilometre,
            Self::Us => DistanceUnit::Mile,
        }
    }

    /// The unit of (gauge) pressure.
    pub fn pressure(self) -> Unit {
        match self {
            Self::Metric => Unit::Kilopascal,
            Self::Us => Unit::Psi,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn reads_spellings() {
        for text in ["km", " KM ", "Kilometers", "km."] {
            assert_eq!(
                DistanceUnit::parse(text),
                Some(DistanceUnit::Kilometre),
                "{text}"
            );
        }
        for text in ["mi", "Miles", "mi.", "Meilen"] {
            assert_eq!(
                DistanceUnit::parse(text),
                Some(DistanceUnit::Mile),
                "{text}"
            );
        }
        for text in ["furlong", "", "m", "k"] {
            assert_eq!(DistanceUnit::parse(text), None, "{text}");
        }
    }

    #[test]
    fn mile_is_exact() {
        // Closed form: 60,000 x 1,609.344 m.
        assert_eq!(DistanceUnit::Mile.to_metres(60_000.0), Some(96_560_640));
        assert_eq!(DistanceUnit::Mile.from_metres(96_560_640), 60_000.0);
    }

    #[test]
    fn refuses_what_is_no_distance() {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300] {
            assert_eq!(DistanceUnit::Kilometre.to_metres(value), None);
        }
    }

    #[test]
    fn unit_system_names_its_way_out() {
        assert_eq!(UnitSystem::parse("US"), Ok(UnitSystem::Us));
        let problem = UnitSystem::parse("metrik").expect_err("not a system");
        assert!(problem.to_string().contains("did you mean metric"));
    }

    proptest! {
        /// Whole metres survive the way out to a person and back.
        #[test]
        fn metres_round_trip(metres in -10_000_000_000i64..10_000_000_000) {
            for unit in DistanceUnit::ALL {
                prop_assert_eq!(unit.to_metres(unit.from_metres(metres)), Some(metres));
            }
        }
    }
}
