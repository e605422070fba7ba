//! The units of a roster on the clocks of their engines: roster and records put together, row by row.

use crate::answer::budget::fleet::Unit;
use crate::answer::budget::types::BadRow;
use crate::domain::day::Day;
use crate::domain::distance::DistanceUnit;
use crate::ingest::roster::{self, RosterUnit};
use crate::tally::budget::Known;

/// The period a roster is placed in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Period {
    /// First day.
    pub from: Day,
    /// Days it lasts.
    pub days: i64,
    /// Months it lasts, and months that the roster's planned distances are for.
    pub months: (u32, u32),
    /// Unit of distance in messages.
    pub distance: DistanceUnit,
}

/// A placed unit: its family's id beside the unit, whose family position is set later.
pub type Placed = (String, Unit);

/// Puts a unit of the roster on its engine's clock.
///
/// # Errors
/// What is missing or contradicts the records, as a row for the list of rows that cannot be used.
pub fn place(
    unit: &RosterUnit,
    known: Option<&Known>,
    period: Period,
) -> Result<Placed, Box<BadRow>> {
    let say = |m: i64| {
        let unit = period.distance;
        format!("{:.0} {}", unit.from_metres(m), unit.symbol())
    };
    let bad = |field: &str, value: String, problem: String, remedy: &str| {
        Box::new(BadRow {
            line: unit.line,
            unit: unit.label.clone(),
            field: field.to_string(),
            value,
            problem,
            remedy: remedy.to_string(),
        })
    };
    if let Some(day) = known.and_then(|k| k.retired_on) {
        let problem = format!("The records say that this unit was retired on {day}.");
        return Err(bad(
            "vehicle",
            unit.label.clone(),
            problem,
            "take it out of the roster, or correct the case that retired it",
        ));
    }
    let of_records = known.and_then(|k| k.family.clone());
    let Some(family) = unit.family.clone().or(of_records) else {
        return Err(bad(
            "engine_family",
            String::new(),
            "Neither roster nor records tell the engine family, so there is no life to judge it by.".to_string(),
            "fill the column of the engine or its family",
        ));
    };
    if let (Some(now), Some(k)) = (unit.odometer_m, known)
        && now < k.odometer_m
    {
        let day = k.last_day.map_or_else(String::new, |d| format!(" on {d}"));
        let problem = format!(
            "The odometer is below the last visit's, {}{day}.",
            say(k.odometer_m)
        );
        return Err(bad(
            "odometer",
            say(now),
            problem,
            "correct the roster; after an exchange of the odometer, ingest a visit that shows the new one first",
        ));
    }
    let Some(start_m) = start(unit, known, period) else {
        return Err(bad(
            "odometer",
            String::new(),
            "The odometer is unknown, in the roster and in the records.".to_string(),
            "fill the column of the odometer",
        ));
    };
    let paced = known
        .and_then(|k| k.pace)
        .map(|(m, days)| driven(m, days, period.days));
    let (months, plan_months) = period.months;
    let of_roster = unit
        .planned_m
        .map(|m| driven(m, plan_months.into(), months.into()));
    let Some(planned_m) = of_roster.or(paced) else {
        return Err(bad(
            "planned_distance",
            String::new(),
            "The planned distance is unknown, and the records show no pace to estimate it from."
                .to_string(),
            "fill the column of the planned distance; 0 if the unit will stand still",
        ));
    };
    Ok((
        family,
        Unit {
            label: unit.label.clone(),
            line: unit.line,
            family: 0,
            start_m,
            planned_m,
            is_planned: unit.planned_m.is_some(),
            repaired: known.is_some_and(|k| k.repaired),
        },
    ))
}

/// Distance of the engine at the start: the records' place on its clock, moved on by the roster's odometer, or at its own pace; the
/// odometer itself for a vehicle the records do not know, or an engine whose start they do not.
fn start(unit: &RosterUnit, known: Option<&Known>, period: Period) -> Option<i64> {
    let Some(k) = known else {
        return unit.odometer_m;
    };
    let position = k.position_m.unwrap_or(k.odometer_m);
    let since = match (unit.odometer_m, k.last_day, k.pace) {
        (Some(now), ..) => now - k.odometer_m,
        (None, Some(day), Some((m, days))) => driven(
            m,
            days,
            (i64::from(period.from.0) - i64::from(day.0)).max(0),
        ),
        _ => 0,
    };
    Some(position + since)
}

/// Metres at a pace of `metres` over some days (or months), in `days` (months).
fn driven(metres: i64, over: i64, days: i64) -> i64 {
    let exact = i128::from(metres) * i128::from(days) / i128::from(over.max(1));
    i64::try_from(exact).unwrap_or(i64::MAX)
}

/// A row that the reader of rosters could not use.
pub fn unread(row: roster::BadRow) -> BadRow {
    BadRow {
        line: row.line,
        unit: row.unit,
        field: row.field,
        value: row.value,
        problem: row.problem,
        remedy: row.remedy,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit() -> RosterUnit {
        RosterUnit {
            line: 2,
            label: "17".into(),
            vehicle: "v".into(),
            family: Some("f".into()),
            odometer_m: Some(120_000_000),
            planned_m: None,
        }
    }

    fn known() -> Known {
        Known {
            place: 0,
            last_day: Some(Day(1000)),
            odometer_m: 110_000_000,
            position_m: Some(30_000_000),
            family: Some("g".into()),
            retired_on: None,
            pace: Some((36_500_000, 365)),
            repaired: true,
        }
    }

    const PERIOD: Period = Period {
        from: Day(1010),
        days: 365,
        months: (12, 12),
        distance: DistanceUnit::Kilometre,
    };

    #[test]
    fn the_engines_own_clock_counts_and_a_missing_plan_is_the_units_pace() {
        let (family, placed) = place(&unit(), Some(&known()), PERIOD).unwrap();
        assert_eq!(family, "f");
        assert_eq!((placed.start_m, placed.planned_m), (40_000_000, 36_500_000));
        assert!(!placed.is_planned && placed.repaired);
        let no_odometer = RosterUnit {
            odometer_m: None,
            planned_m: Some(7),
            ..unit()
        };
        let (_, placed) = place(&no_odometer, Some(&known()), PERIOD).unwrap();
        assert_eq!((placed.start_m, placed.planned_m), (31_000_000, 7));
    }

    #[test]
    fn a_yearly_plan_is_brought_to_the_period() {
        let yearly = RosterUnit {
            planned_m: Some(24_000_000),
            ..unit()
        };
        let half = Period {
            months: (6, 12),
            ..PERIOD
        };
        let (_, placed) = place(&yearly, Some(&known()), half).unwrap();
        assert_eq!((placed.planned_m, placed.is_planned), (12_000_000, true));
    }

    #[test]
    fn what_cannot_be_is_told_by_row() {
        let field = |unit: RosterUnit, known: Option<&Known>| {
            place(&unit, known, PERIOD).unwrap_err().field
        };
        let below = RosterUnit {
            odometer_m: Some(109_999_999),
            ..unit()
        };
        assert_eq!(field(below, Some(&known())), "odometer");
        assert_eq!(field(unit(), None), "planned_distance");
        let nothing = RosterUnit {
            odometer_m: None,
            ..unit()
        };
        assert_eq!(field(nothing, None), "odometer");
        let nameless = RosterUnit {
            family: None,
            ..unit()
        };
        assert_eq!(field(nameless, None), "engine_family");
        let retired = Known {
            retired_on: Some(Day(900)),
            ..known()
        };
        assert_eq!(field(unit(), Some(&retired)), "vehicle");
    }
}
