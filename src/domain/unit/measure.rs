//! Units of test readings and their exact factors.
//!
//! A reading is stored once, in the canonical unit of its quantity, so that readings of different shops can be
//! compared; every conversion goes through here. Pressures are gauge pressures: nothing is added or subtracted for
//! the atmosphere. Factors follow from the definitions of the inch, pound, standard gravity and US gallon
//! (NIST SP 811, appendix B) and are correctly rounded doubles.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// What is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Gauge pressure.
    Pressure,
    /// Electrical resistance.
    Resistance,
    /// Voltage.
    Voltage,
    /// Short time, of a spark or a pulse.
    PulseTime,
    /// Length: clearance, gap, bore.
    Length,
    /// Share of a whole.
    Share,
    /// Working time.
    WorkingTime,
    /// Temperature.
    Temperature,
    /// Torque.
    Torque,
    /// Volume.
    Volume,
    /// A pure number.
    Count,
}

/// A unit of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// Kilopascal (canonical pressure).
    Kilopascal,
    /// Pound-force per square inch.
    Psi,
    /// Bar.
    Bar,
    /// Kilogram-force per square centimetre (technical atmosphere).
    KilogramForcePerSquareCentimetre,
    /// Conventional inch of mercury.
    InchOfMercury,
    /// Ohm (canonical resistance).
    Ohm,
    /// Kilohm.
    Kilohm,
    /// Milliohm.
    Milliohm,
    /// Megohm.
    Megohm,
    /// Kilovolt (canonical voltage).
    Kilovolt,
    /// Volt.
    Volt,
    /// Millisecond (canonical pulse time).
    Millisecond,
    /// Microsecond.
    Microsecond,
    /// Millimetre (canonical length).
    Millimetre,
    /// Inch.
    Inch,
    /// Percent (canonical share).
    Percent,
    /// Minute (canonical working time).
    Minute,
    /// Hour.
    Hour,
    /// Degree Celsius (canonical temperature).
    Celsius,
    /// Degree Fahrenheit.
    Fahrenheit,
    /// Newton metre (canonical torque).
    NewtonMetre,
    /// Pound-force foot.
    PoundForceFoot,
    /// Litre (canonical volume).
    Litre,
    /// US gallon.
    UsGallon,
    /// Cubic inch.
    CubicInch,
    /// A pure number (canonical count).
    Count,
}

/// Everything known of a unit: canonical = (value - offset) x factor.
pub(super) struct Facts {
    pub symbol: &'static str,
    quantity: Quantity,
    factor: f64,
    offset: f64,
    /// Other spellings, already in the form that `simplify` gives.
    pub spellings: &'static [&'static str],
}

const fn facts(
    symbol: &'static str,
    quantity: Quantity,
    factor: f64,
    spellings: &'static [&'static str],
) -> Facts {
    Facts {
        symbol,
        quantity,
        factor,
        offset: 0.0,
        spellings,
    }
}

impl Unit {
    /// Every unit; the canonical one of a quantity comes before its others.
    pub const ALL: [Unit; 26] = [
        Unit::Kilopascal,
        Unit::Psi,
        Unit::Bar,
        Unit::KilogramForcePerSquareCentimetre,
        Unit::InchOfMercury,
        Unit::Ohm,
        Unit::Kilohm,
        Unit::Milliohm,
        Unit::Megohm,
        Unit::Kilovolt,
        Unit::Volt,
        Unit::Millisecond,
        Unit::Microsecond,
        Unit::Millimetre,
        Unit::Inch,
        Unit::Percent,
        Unit::Minute,
        Unit::Hour,
        Unit::Celsius,
        Unit::Fahrenheit,
        Unit::NewtonMetre,
        Unit::PoundForceFoot,
        Unit::Litre,
        Unit::UsGallon,
        Unit::CubicInch,
        Unit::Count,
    ];

    pub(super) fn facts(self) -> Facts {
        use Quantity as Q;
        match self {
            Unit::Kilopascal => facts("kPa", Q::Pressure, 1.0, &["kilopascal", "kilopascals"]),
            // 0.45359237 kg x 9.80665 m/s2 / (0.0254 m)^2 = 8896443230521/1290320000 Pa.
            Unit::Psi => facts(
                "psi",
                Q::Pressure,
                6.894_757_293_168_361,
                &[
                    "psig", "lbf/in2", "lb/in2", "lbs/in2", "lbs", "p.s.i", "pounds",
                ],
            ),
            Unit::Bar => facts("bar", Q::Pressure, 100.0, &["bars", "barg", "bar(g)"]),
            Unit::KilogramForcePerSquareCentimetre => facts(
                "kgf/cm2",
                Q::Pressure,
                98.0665,
                &["kg/cm2", "kp/cm2", "at", "kgfcm2", "kgcm2", "ksc"],
            ),
            // Conventional inch of mercury, NIST SP 811 appendix B.8 (3.386389; at 0 degrees C it is 3.38638).
            Unit::InchOfMercury => facts("inHg", Q::Pressure, 3.386_389, &["in.hg", "\"hg"]),
            Unit::Ohm => facts("ohm", Q::Resistance, 1.0, &["ohms", "ω", "r"]),
            Unit::Kilohm => facts(
                "kohm",
                Q::Resistance,
                1e3,
                &["kohms", "kω", "kiloohm", "kilohm"],
            ),
            Unit::Milliohm => facts("mohm", Q::Resistance, 1e-3, &["milliohm", "milliohms"]),
            Unit::Megohm => facts(
                "Mohm",
                Q::Resistance,
                1e6,
                &["megohm", "megohms", "megaohm"],
            ),
            Unit::Kilovolt => facts("kV", Q::Voltage, 1.0, &["kilovolt", "kilovolts"]),
            Unit::Volt => facts("V", Q::Voltage, 1e-3, &["volt", "volts"]),
            Unit::Millisecond => facts(
                "ms",
                Q::PulseTime,
                1.0,
                &["msec", "millisecond", "milliseconds"],
            ),
            Unit::Microsecond => facts(
                "us",
                Q::PulseTime,
                1e-3,
                &["μs", "usec", "microsecond", "microseconds"],
            ),
            Unit::Millimetre => facts(
                "mm",
                Q::Length,
                1.0,
                &["millimetre", "millimetres", "millimeter", "millimeters"],
            ),
            Unit::Inch => facts("in", Q::Length, 25.4, &["inch", "inches", "\""]),
            Unit::Percent => facts(
                "%",
                Q::Share,
                1.0,
                &["percent", "pct", "prozent", "percentage"],
            ),
            Unit::Minute => facts(
                "min",
                Q::WorkingTime,
                1.0,
                &["mins", "minute", "minutes", "minuten"],
            ),
            Unit::Hour => facts(
                "h",
                Q::WorkingTime,
                60.0,
                &["hr", "hrs", "hour", "hours", "std", "stunden"],
            ),
            Unit::Celsius => facts("°C", Q::Temperature, 1.0, &["c", "degc", "celsius"]),
            Unit::Fahrenheit => Facts {
                offset: 32.0,
                ..facts(
                    "°F",
                    Q::Temperature,
                    5.0 / 9.0,
                    &["f", "degf", "fahrenheit"],
                )
            },
            Unit::NewtonMetre => facts("N m", Q::Torque, 1.0, &["newtonmetre", "newtonmeter"]),
            // 0.45359237 kg x 9.80665 m/s2 x 0.3048 m.
            Unit::PoundForceFoot => facts(
                "lbf ft",
                Q::Torque,
                1.355_817_948_331_400_4,
                &[
                    "ftlb", "ftlbs", "ftlbf", "lbft", "ft-lb", "ft-lbs", "lb-ft", "lbf-ft",
                ],
            ),
            Unit::Litre => facts("L", Q::Volume, 1.0, &["litre", "litres", "liter", "liters"]),
            // 231 cubic inches.
            Unit::UsGallon => facts(
                "gal",
                Q::Volume,
                3.785_411_784,
                &["gallon", "gallons", "usgal"],
            ),
            Unit::CubicInch => facts("in3", Q::Volume, 0.016_387_064, &["cuin", "cid", "ci"]),
            Unit::Count => facts("count", Q::Count, 1.0, &["none", "number", "-", "counts"]),
        }
    }

    /// The spelling that is printed and stored.
    pub fn symbol(self) -> &'static str {
        self.facts().symbol
    }

    /// What it measures.
    pub fn quantity(self) -> Quantity {
        self.facts().quantity
    }

    /// The unit in which readings of this quantity are stored.
    pub fn canonical(self) -> Unit {
        match self.quantity() {
            Quantity::Pressure => Unit::Kilopascal,
            Quantity::Resistance => Unit::Ohm,
            Quantity::Voltage => Unit::Kilovolt,
            Quantity::PulseTime => Unit::Millisecond,
            Quantity::Length => Unit::Millimetre,
            Quantity::Share => Unit::Percent,
            Quantity::WorkingTime => Unit::Minute,
            Quantity::Temperature => Unit::Celsius,
            Quantity::Torque => Unit::NewtonMetre,
            Quantity::Volume => Unit::Litre,
            Quantity::Count => Unit::Count,
        }
    }

    /// A value of this unit in the canonical one.
    pub fn to_canonical(self, value: f64) -> f64 {
        let facts = self.facts();
        (value - facts.offset) * facts.factor
    }

    /// A canonical value in this unit.
    pub fn from_canonical(self, value: f64) -> f64 {
        let facts = self.facts();
        value / facts.factor + facts.offset
    }

    /// A value of this unit in `to`; `None` if they measure different things.
    pub fn convert(self, value: f64, to: Unit) -> Option<f64> {
        if self == to {
            return Some(value);
        }
        (self.quantity() == to.quantity()).then(|| to.from_canonical(self.to_canonical(value)))
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

impl Serialize for Unit {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.symbol())
    }
}

impl<'de> Deserialize<'de> for Unit {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        Unit::parse(&text)
            .ok_or_else(|| serde::de::Error::custom(format!("{text:?} is not a unit of a reading")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_canonical_unit_converts_to_itself() {
        for unit in Unit::ALL {
            assert_eq!(unit.canonical().canonical(), unit.canonical());
            assert_eq!(unit.canonical().to_canonical(3.0), 3.0, "{unit}");
        }
    }

    #[test]
    fn converts_only_within_a_quantity() {
        assert_eq!(Unit::Hour.convert(0.5, Unit::Minute), Some(30.0));
        assert_eq!(Unit::Psi.convert(1.0, Unit::Ohm), None);
    }

    proptest! {
        /// To the canonical unit and back loses at most the last digits.
        #[test]
        fn round_trip(value in -1e6f64..1e6) {
            for unit in Unit::ALL {
                let back = unit.from_canonical(unit.to_canonical(value));
                prop_assert!((back - value).abs() <= 1e-14 * (value.abs() + 100.0), "{unit}: {back} for {value}");
            }
        }
    }
}
