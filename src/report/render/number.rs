//! How a cell is written for people: the one place where anything is rounded.

use crate::answer::sheet::{Cell, Show};
use crate::answer::words;

/// Text of a cell for people.
pub fn text(cell: &Cell, show: Show) -> String {
    match (cell, show) {
        (Cell::Empty, _) => "–".to_string(),
        (Cell::Text(t), _) => t.clone(),
        (Cell::Day(d), _) => d.to_string(),
        (Cell::Whole(n), Show::Percent) => percent(*n as f64),
        (Cell::Whole(n), _) => grouped(*n),
        (Cell::Number(x), Show::Percent) => percent(*x),
        (Cell::Number(x), Show::PValue) => p_value(*x),
        (Cell::Number(x), _) => quantity(*x),
    }
}

/// Thousands in groups of three with a narrow no-break space, as ISO 80000-1 writes them; plain below 10 000.
pub fn grouped(n: i64) -> String {
    let sign = if n < 0 { "−" } else { "" };
    format!("{sign}{}", words::grouped(&n.unsigned_abs().to_string()))
}

/// Three significant digits without exponent for everyday sizes.
pub fn quantity(x: f64) -> String {
    if x.is_infinite() {
        return if x > 0.0 {
            "no limit".to_string()
        } else {
            "−no limit".to_string()
        };
    }
    if x == 0.0 {
        return "0".to_string();
    }
    let size = x.abs();
    if !(1e-6..1e15).contains(&size) {
        return format!("{x:.2e}");
    }
    if size >= 999.5 {
        return grouped(x.round() as i64);
    }
    let before = size.log10().floor() as i32;
    let decimals = (2 - before).clamp(0, 9) as usize;
    let shown = format!("{x:.decimals$}");
    // 9.996 rounds up to 10.00: one digit too many.
    if decimals > 0
        && shown
            .trim_start_matches('-')
            .chars()
            .filter(char::is_ascii_digit)
            .collect::<String>()
            .trim_start_matches('0')
            .len()
            > 3
    {
        let fewer = decimals - 1;
        return format!("{x:.fewer$}");
    }
    shown
}

/// A share of one in percent, one decimal; small ones as one in so many, and not quite all is not 100 %.
pub fn percent(x: f64) -> String {
    if 0.0 < x && x < words::SMALL_SHARE {
        words::one_in(x)
    } else if (0.9995..1.0).contains(&x) {
        "> 99.9 %".to_string()
    } else {
        format!("{:.1} %", 100.0 * x)
    }
}

/// A p-value: two significant digits, never "0".
pub fn p_value(p: f64) -> String {
    if p < 1e-4 {
        "< 0.0001".to_string()
    } else if p < 0.001 {
        format!("{p:.4}")
    } else {
        format!("{p:.3}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounds_for_people() {
        assert_eq!(quantity(0.0), "0");
        assert_eq!(quantity(3.688879), "3.69");
        assert_eq!(quantity(9.996), "10.0");
        assert_eq!(quantity(0.012345), "0.0123");
        assert_eq!(quantity(999.7), "1000");
        assert_eq!(quantity(1_234_567.0), "1\u{202f}234\u{202f}567");
        assert_eq!(quantity(f64::INFINITY), "no limit");
        assert_eq!(percent(0.4567), "45.7 %");
        assert_eq!(percent(0.0), "0.0 %");
        assert_eq!(percent(0.000739), "1 in 1350");
        assert_eq!(percent(0.99999), "> 99.9 %");
        assert_eq!(percent(1.0), "100.0 %");
        assert_eq!(p_value(0.0), "< 0.0001");
        assert_eq!(grouped(-12345), "−12\u{202f}345");
    }
}
