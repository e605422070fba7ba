//! The unit of readings that came without one: said only where the whole set leaves no doubt.

use super::measure::Unit;

/// Guesses the unit of a whole set of cranking-compression readings that came without one.
///
/// Spark-ignition engines read about 8 to 14 bar (or kgf/cm2), 120 to 200 psi or 830 to 1400 kPa: ranges that do not
/// overlap (common practice). The answer is given only if every reading lies in one range. Bar and kgf/cm2 are
/// 2 % apart and cannot be told apart, so 8 to 14 gives `None`, and so does any set with one reading outside; diesel
/// engines read higher, so use it for spark-ignition only. Whoever stores the result marks it as inferred.
pub fn infer_pressure_unit(readings: &[f64]) -> Option<Unit> {
    let all_within = |low: f64, high: f64| readings.iter().all(|r| (low..=high).contains(r));
    if readings.is_empty() {
        None
    } else if all_within(120.0, 200.0) {
        Some(Unit::Psi)
    } else if all_within(830.0, 1400.0) {
        Some(Unit::Kilopascal)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn infers_only_what_the_whole_set_says() {
        assert_eq!(infer_pressure_unit(&[150.0, 155.0, 148.0]), Some(Unit::Psi));
        assert_eq!(
            infer_pressure_unit(&[1030.0, 1100.0]),
            Some(Unit::Kilopascal)
        );
        for set in [
            &[][..],
            &[10.5, 11.0],
            &[150.0, 1030.0],
            &[90.0, 140.0],
            &[f64::NAN],
        ] {
            assert_eq!(infer_pressure_unit(set), None, "{set:?}");
        }
    }
}
