//! Numbers inside sentences, three significant digits, the same everywhere.

use super::parts::{Estimate, Evidence};
use crate::domain::distance::DistanceUnit;

/// Three significant digits, no exponent.
pub fn number(x: f64) -> String {
    if x == 0.0 {
        return "0".to_string();
    }
    let before = x.abs().log10().floor() as i32;
    let decimals = (2 - before).clamp(0, 12) as usize;
    format!("{x:.decimals$}")
}

/// `95 % 1.2 to 3.4`, or with an open end.
pub fn interval(e: &Estimate) -> String {
    let upper = e
        .upper
        .filter(|u| u.is_finite())
        .map_or("no upper limit".to_string(), number);
    format!("{:.0} % {} to {upper}", 100.0 * e.level, number(e.lower))
}

/// A share in whole percent; what is not quite nothing or all is said to be so.
pub fn percent(x: f64) -> String {
    let p = 100.0 * x;
    if 0.0 < p && p < 0.5 {
        "less than 1 %".to_string()
    } else if (99.5..100.0).contains(&p) {
        "more than 99 %".to_string()
    } else {
        format!("{p:.0} %")
    }
}

/// Shares below this are said as one in so many: `0.0739 %` tells few people anything.
pub const SMALL_SHARE: f64 = 0.001;

/// A small share, 0 < x, as one in so many to three digits: `1 in 1350`.
pub fn one_in(x: f64) -> String {
    let many = 1.0 / x;
    if many >= 1e6 {
        return "less than 1 in a million".to_string();
    }
    let step = 10f64.powf(many.log10().floor() - 2.0);
    format!(
        "1 in {}",
        grouped(&format!("{:.0}", (many / step).round() * step))
    )
}

/// A share in percent with as many digits as it needs: `4.2 %`, `35 %`, `0.31 %`; small ones as one in so many.
pub fn share(x: f64) -> String {
    if 0.0 < x && x < SMALL_SHARE {
        return one_in(x);
    }
    let p = 100.0 * x;
    let decimals = match p.abs() {
        s if s >= 10.0 || s == 0.0 => 0,
        s if s >= 1.0 => 1,
        _ => 2,
    };
    format!("{p:.decimals$} %")
}

/// Metres in the reader's unit, three significant digits, thousands in groups: `182\u{202f}000 km`.
pub fn distance(metres: f64, unit: DistanceUnit) -> String {
    let x = metres / unit.metres_per_unit();
    if x.abs() < 1000.0 {
        return format!("{} {}", number(x), unit.word());
    }
    let step = 10f64.powf(x.abs().log10().floor() - 2.0);
    let digits = format!("{:.0}", (x / step).round() * step);
    format!("{} {}", grouped(&digits), unit.word())
}

/// Thousands in groups of three with a narrow no-break space, as ISO 80000-1 writes them; plain up to four digits.
pub fn grouped(digits: &str) -> String {
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        let left = digits.len() - i;
        if i > 0 && digits.len() > 4 && left.is_multiple_of(3) {
            out.push('\u{202f}');
        }
        out.push(c);
    }
    out
}

/// `1 failure`, `2 failures`.
pub fn count(n: u64, noun: &str) -> String {
    if n == 1 {
        format!("1 {noun}")
    } else {
        format!("{n} {noun}s")
    }
}

/// What stands behind an estimate, in one line.
pub fn evidence(e: &Evidence, unit: DistanceUnit) -> String {
    let mut line = format!(
        "{} in {}",
        count(e.events, "failure"),
        count(e.vehicles, "vehicle")
    );
    if let Some(m) = e.exposure_m {
        line += &format!(
            " over {} {} under observation",
            large(unit.from_metres(m)),
            unit.symbol()
        );
    }
    line += &format!(" at {}", count(e.sites, "site"));
    if let (Some(first), Some(last)) = (e.first_date, e.last_date) {
        line += &format!(", {first} to {last}");
    }
    line
}

/// A large number in words: `1.25 million`.
pub fn large(x: f64) -> String {
    match x.abs() {
        s if s >= 1e9 => format!("{} thousand million", number(x / 1e9)),
        s if s >= 1e6 => format!("{} million", number(x / 1e6)),
        s if s >= 1e4 => format!("{} thousand", number(x / 1e3)),
        _ => format!("{x:.0}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_in_words() {
        assert_eq!(large(1_234_567.0), "1.23 million");
        assert_eq!(large(54_321.0), "54.3 thousand");
        assert_eq!(large(999.4), "999");
        assert_eq!(number(0.012345), "0.0123");
        assert_eq!(count(1, "failure"), "1 failure");
        let km = |m: f64| distance(m, DistanceUnit::Kilometre);
        assert_eq!(km(182_345_678.0), "182\u{202f}000 km");
        assert_eq!(km(9_876_543.0), "9880 km");
        assert_eq!(km(999_960.0), "1000 km");
        assert_eq!(km(0.0), "0 km");
        assert_eq!(
            distance(160_934_400.0, DistanceUnit::Mile),
            "100\u{202f}000 miles"
        );
        assert_eq!(share(0.0423), "4.2 %");
        assert_eq!(share(0.351), "35 %");
        assert_eq!(share(0.0), "0 %");
        assert_eq!(share(0.000739), "1 in 1350");
        assert_eq!(one_in(0.0001), "1 in 10\u{202f}000");
        assert_eq!(one_in(3e-10), "less than 1 in a million");
        assert_eq!((percent(0.0), percent(0.35)), ("0 %".into(), "35 %".into()));
        assert_eq!(percent(0.0041), "less than 1 %");
        assert_eq!(percent(0.9972), "more than 99 %");
        assert_eq!(percent(1.0), "100 %");
    }
}
