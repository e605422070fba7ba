//! Unit conversions against exact rational arithmetic.
//!
//! Origin of every expected number unless a line says otherwise: Python 3.11 `fractions`, from the definitions of the
//! inch (0.0254 m), pound (0.45359237 kg), standard gravity (9.80665 m/s2), mile (1609.344 m) and US gallon
//! (231 cubic inches), rounded once to double precision.

use boretally::domain::distance::{DistanceUnit, Metres};
use boretally::domain::unit::Unit;

/// A few units in the last place: one rounding of the factor, one of the product.
const TOLERANCE: f64 = 1e-15;

#[track_caller]
fn same(label: &str, got: f64, expected: f64) {
    let error = (got / expected - 1.0).abs();
    assert!(
        error <= TOLERANCE,
        "{label}: {got:e} against {expected:e}, relative error {error:e}"
    );
}

fn convert(value: f64, from: Unit, to: Unit) -> f64 {
    from.convert(value, to)
        .unwrap_or_else(|| panic!("{from} and {to} measure the same"))
}

#[test]
fn pressures() {
    let (kpa, psi, bar) = (Unit::Kilopascal, Unit::Psi, Unit::Bar);
    let technical = Unit::KilogramForcePerSquareCentimetre;
    same("psi in kPa", convert(1.0, psi, kpa), 6.894757293168361);
    // The exact fraction 8896443230521/1290320000 Pa.
    same(
        "psi in kPa, fraction",
        convert(1.0, psi, kpa),
        8896443230521.0 / 1290320000.0 / 1000.0,
    );
    same("psi in bar", convert(1.0, psi, bar), 0.06894757293168362);
    same(
        "150 psi in kPa",
        convert(150.0, psi, kpa),
        1034.2135939752543,
    );
    same("bar in kPa", convert(1.0, bar, kpa), 100.0);
    same("bar in psi", convert(1.0, bar, psi), 14.50377377302092);
    same("kPa in psi", convert(1.0, kpa, psi), 0.14503773773020923);
    same("kgf/cm2 in kPa", convert(1.0, technical, kpa), 98.0665);
    // Conventional inch of mercury: NIST SP 811 appendix B.8, from memory.
    same(
        "inHg in kPa",
        convert(1.0, Unit::InchOfMercury, kpa),
        3.386389,
    );
}

#[test]
fn distances() {
    let (km, mile) = (DistanceUnit::Kilometre, DistanceUnit::Mile);
    same(
        "mile in km",
        mile.metres_per_unit() / km.metres_per_unit(),
        1.609344,
    );
    same(
        "km in mile",
        km.metres_per_unit() / mile.metres_per_unit(),
        0.621371192237334,
    );
    let metres = |value: f64, unit: DistanceUnit| {
        Metres(
            unit.to_metres(value)
                .unwrap_or_else(|| panic!("{value} {unit} is a distance")),
        )
    };
    same(
        "60,000 miles in km",
        metres(60_000.0, mile).in_unit(km),
        96_560.64,
    );
    same(
        "100,000 miles in km",
        metres(100_000.0, mile).in_unit(km),
        160_934.4,
    );
    same(
        "160,934.4 km in miles",
        metres(160_934.4, km).in_unit(mile),
        100_000.0,
    );
    same(
        "100,000 km in miles",
        metres(100_000.0, km).in_unit(mile),
        62_137.119223733396,
    );
    // One failure in 100,000 miles, per 100,000 km.
    let rate = 1e5 / metres(100_000.0, mile).in_unit(km);
    same("failure rate", rate, 0.621371192237334);
}

#[test]
fn the_rest() {
    same(
        "inch in mm",
        convert(1.0, Unit::Inch, Unit::Millimetre),
        25.4,
    );
    same(
        "lbf ft in N m",
        convert(1.0, Unit::PoundForceFoot, Unit::NewtonMetre),
        1.3558179483314003,
    );
    same(
        "US gallon in L",
        convert(1.0, Unit::UsGallon, Unit::Litre),
        3.785411784,
    );
    same(
        "cubic inch in cm3",
        1000.0 * convert(1.0, Unit::CubicInch, Unit::Litre),
        16.387064,
    );
    same(
        "350 cubic inches in L",
        convert(350.0, Unit::CubicInch, Unit::Litre),
        5.7354724,
    );
    same(
        "210 F in C",
        convert(210.0, Unit::Fahrenheit, Unit::Celsius),
        98.88888888888889,
    );
}

#[test]
fn a_wrong_factor_would_be_seen() {
    // The nearest wrong factors in use: inch of mercury at 0 degrees C, and the US survey mile.
    assert!((Unit::InchOfMercury.to_canonical(1.0) / 3.38638 - 1.0).abs() > 1e-6);
    assert!((DistanceUnit::Mile.metres_per_unit() / (5280.0 * 1200.0 / 3937.0) - 1.0).abs() > 1e-6);
}
