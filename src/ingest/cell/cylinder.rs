//! Cylinder numbers, as shops write them.

use crate::ingest::rule::{Reason, Rejection};

/// Words before the number that mean nothing more than "cylinder".
const PREFIXES: &[&str] = &[
    "#", "cylinder", "cylindre", "cilindro", "cyl", "cil", "zylinder", "zyl", "no", "nr", "c",
];

/// Reads `3`, `#3`, `Cyl. 3`, `Zylinder 3`; a place ("left rear", "bank 2") is not a number and is not turned into one.
pub fn parse(text: &str) -> Result<i64, Rejection> {
    let lower = text.to_lowercase();
    let mut rest = lower.as_str();
    while let Some(shorter) = PREFIXES.iter().find_map(|p| rest.strip_prefix(p)) {
        rest =
            shorter.trim_start_matches(|c: char| c.is_whitespace() || matches!(c, '.' | ':' | '-'));
    }
    let digits = rest.strip_suffix(".0").unwrap_or(rest);
    if digits.is_empty() || digits.len() > 3 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return Err(Reason::CylinderUnknown.into());
    }
    digits.parse().map_err(|_| Reason::CylinderUnknown.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_numbers_and_leaves_places_alone() {
        for text in [
            "3",
            "#3",
            "Cyl. 3",
            "cylinder #3",
            "Zyl.3",
            "C3",
            "3.0",
            "03",
        ] {
            assert_eq!(parse(text), Ok(3), "{text}");
        }
        for text in ["left rear", "3 rear", "3,4", "bank 2", "", "-3"] {
            assert!(parse(text).is_err(), "{text}");
        }
    }
}
