//! How exports spell units.

use super::measure::Unit;

impl Unit {
    /// Reads the spellings found in exports; `None` for anything else.
    ///
    /// Case does not matter except between milliohm (`mohm`, `mΩ`) and megohm (`Mohm`, `MΩ`), which differ by
    /// 10^9: "MOHM" in capitals throughout is not guessed.
    pub fn parse(text: &str) -> Option<Unit> {
        let text = text.trim();
        if let Some(unit) = milli_or_mega(text) {
            return unit;
        }
        let plain = simplify(text);
        Unit::ALL.into_iter().find(|unit| {
            let facts = unit.facts();
            simplify(facts.symbol) == plain || facts.spellings.contains(&plain.as_str())
        })
    }
}

/// Some(answer) when the text is "m" or "M" before some spelling of ohm.
fn milli_or_mega(text: &str) -> Option<Option<Unit>> {
    let mut letters = text.chars();
    let first = letters.next()?;
    let rest = letters.as_str().trim();
    let is_ohm = matches!(
        rest,
        "ohm" | "ohms" | "Ohm" | "Ohms" | "OHM" | "OHMS" | "\u{3a9}" | "\u{2126}"
    );
    match (first, is_ohm) {
        ('m', true) => Some(Some(Unit::Milliohm)),
        ('M', true) if rest.starts_with("OHM") => Some(None),
        ('M', true) => Some(Some(Unit::Megohm)),
        _ => None,
    }
}

/// Lower case without spaces, degree signs and closing full stops; superscripts and look-alikes made plain.
fn simplify(text: &str) -> String {
    text.trim_end_matches('.')
        .to_lowercase()
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '°' | '^' | '·' | '*'))
        .map(|c| match c {
            '²' => '2',
            '³' => '3',
            'µ' => 'μ',
            '″' | '”' | '“' => '"',
            c => c,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn symbols_read_themselves() {
        for unit in Unit::ALL {
            assert_eq!(Unit::parse(unit.symbol()), Some(unit), "{unit}");
        }
    }

    #[test]
    fn no_spelling_means_two_units() {
        let mut seen = std::collections::BTreeMap::new();
        for unit in Unit::ALL {
            for spelling in unit.facts().spellings {
                assert_eq!(simplify(spelling), *spelling, "{unit}");
                assert_eq!(Unit::parse(spelling), Some(unit), "{spelling}");
                assert_eq!(seen.insert(*spelling, unit), None, "{spelling}");
            }
        }
    }

    #[test]
    fn reads_spellings_of_exports() {
        for (text, unit) in [
            ("PSI", Unit::Psi),
            ("lbf/in²", Unit::Psi),
            ("KPA", Unit::Kilopascal),
            ("kg/cm²", Unit::KilogramForcePerSquareCentimetre),
            ("kgf/cm^2", Unit::KilogramForcePerSquareCentimetre),
            ("in. Hg", Unit::InchOfMercury),
            ("Ω", Unit::Ohm),
            ("\u{2126}", Unit::Ohm),
            ("kΩ", Unit::Kilohm),
            ("KOHM", Unit::Kilohm),
            ("mΩ", Unit::Milliohm),
            ("MΩ", Unit::Megohm),
            ("Mohm", Unit::Megohm),
            ("KV", Unit::Kilovolt),
            ("µs", Unit::Microsecond),
            ("Min.", Unit::Minute),
            ("hrs", Unit::Hour),
            ("deg F", Unit::Fahrenheit),
            ("ft-lb", Unit::PoundForceFoot),
        ] {
            assert_eq!(Unit::parse(text), Some(unit), "{text}");
        }
        for text in ["MOHM", "", "parsec", "kPa abs"] {
            assert_eq!(Unit::parse(text), None, "{text}");
        }
    }
}
