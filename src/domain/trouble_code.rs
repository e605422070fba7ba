//! Diagnostic trouble codes: reading the messy lists of exports, and the few codes that name a cylinder.
//!
//! A code is a letter P, B, C or U and four characters, the first 0 to 3 and the others hexadecimal; exports drop the
//! letter, append a failure type ("-00") or a status word. The layout and the numbers are those of SAE J2012 and
//! ISO 15031-6, from memory; the standards are not open.

use std::fmt;

/// One code in normal form, such as `P0303`, with what stood behind it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TroubleCode {
    /// Letter and four characters, upper case.
    base: String,
    /// Failure-type byte, two hexadecimal characters, where the export had one.
    suffix: Option<String>,
}

/// Which injector circuit code it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum InjectorFault {
    /// P0201..P0212: the circuit.
    Circuit,
    /// P0261 + 3(n-1): the circuit is low.
    Low,
    /// P0262 + 3(n-1): the circuit is high.
    High,
    /// P0263 + 3(n-1): the cylinder's contribution or balance.
    Contribution,
}

impl TroubleCode {
    /// Reads one code: any case, with or without a space or hyphen after its letter, the letter missing (then
    /// powertrain, P), with or without a failure-type suffix. `None` for anything else.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim().to_ascii_uppercase();
        let (base, suffix) = match text.split_once(['-', ':']) {
            // "P-0303" has its hyphen after the letter, "P0303-00" before the failure type.
            Some((letter, rest)) if letter.len() == 1 => match rest.split_once(['-', ':']) {
                Some((digits, suffix)) => (format!("{letter}{digits}"), Some(suffix.to_owned())),
                None => (format!("{letter}{rest}"), None),
            },
            Some((base, suffix)) => (base.to_owned(), Some(suffix.to_owned())),
            None => (text, None),
        };
        let base: String = base.chars().filter(|c| !c.is_whitespace()).collect();
        // Seven characters without a hyphen are a code and its failure type: P030300.
        let (base, suffix) = match suffix {
            None if base.is_ascii() && base.len() == 7 => {
                let (code, rest) = base.split_at(5);
                (code.to_owned(), Some(rest.to_owned()))
            }
            suffix => (base, suffix),
        };
        let base = match base.len() {
            // Without a letter the list was of powertrain codes.
            4 => format!("P{base}"),
            _ => base,
        };
        let suffix_fits = suffix.as_ref().is_none_or(|s| s.len() == 2 && is_hex(s));
        (is_code(&base) && suffix_fits).then_some(Self { base, suffix })
    }

    /// The code of a two-byte word as a scan tool receives it: two bits of letter (P, C, B, U), two bits of first
    /// digit, three hexadecimal digits.
    pub fn from_word(word: u16) -> Self {
        let letter = match word >> 14 {
            0 => 'P',
            1 => 'C',
            2 => 'B',
            _ => 'U',
        };
        let first = (word >> 12) & 3;
        Self {
            base: format!("{letter}{first}{:03X}", word & 0x0FFF),
            suffix: None,
        }
    }

    /// The five characters without a suffix.
    pub fn base(&self) -> &str {
        &self.base
    }

    /// The failure-type byte, where there was one.
    pub fn suffix(&self) -> Option<&str> {
        self.suffix.as_deref()
    }

    /// The cylinder of a misfire code P0301..P0312; `None` for P0300 (several), P0313..P0316 and every other code.
    ///
    /// It understates: a second weak cylinder may hide behind a single-cylinder code, and P0300 does not mean "all".
    pub fn misfire_cylinder(&self) -> Option<u8> {
        self.powertrain_number()
            .and_then(|n| offset_within(n, 301, 12))
    }

    /// Whether it is a misfire code of any kind, P0300..P0316 without P0315 (crank pattern not learned).
    pub fn is_misfire(&self) -> bool {
        self.powertrain_number()
            .is_some_and(|n| (300..=316).contains(&n) && n != 315)
    }

    /// The cylinder and kind of an injector circuit code.
    pub fn injector(&self) -> Option<(u8, InjectorFault)> {
        let number = self.powertrain_number()?;
        if let Some(cylinder) = offset_within(number, 201, 12) {
            return Some((cylinder, InjectorFault::Circuit));
        }
        let at = offset_within(number, 261, 36)? - 1;
        let fault = match at % 3 {
            0 => InjectorFault::Low,
            1 => InjectorFault::High,
            _ => InjectorFault::Contribution,
        };
        Some((at / 3 + 1, fault))
    }

    /// The circuit letter A..L of an ignition coil code P0351..P0362. The letter names a circuit, not a cylinder.
    pub fn coil_letter(&self) -> Option<char> {
        let n = offset_within(self.powertrain_number()?, 351, 12)?;
        Some(char::from(b'A' + n - 1))
    }

    /// The four digits of a standard powertrain code P0nnn; `None` for other letters and hexadecimal digits.
    fn powertrain_number(&self) -> Option<u16> {
        let digits = self.base.strip_prefix("P0")?;
        digits.parse().ok()
    }
}

/// 1 for `first`, 2 for the next, up to `count`.
fn offset_within(number: u16, first: u16, count: u16) -> Option<u8> {
    let offset = number.checked_sub(first)?;
    (offset < count)
        .then(|| u8::try_from(offset + 1).ok())
        .flatten()
}

fn is_hex(text: &str) -> bool {
    text.chars().all(|c| c.is_ascii_hexdigit())
}

fn is_code(text: &str) -> bool {
    let mut chars = text.chars();
    text.len() == 5
        && chars
            .next()
            .is_some_and(|c| matches!(c, 'P' | 'B' | 'C' | 'U'))
        && chars.next().is_some_and(|c| matches!(c, '0'..='3'))
        && is_hex(chars.as_str())
}

impl fmt::Display for TroubleCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.base)?;
        match &self.suffix {
            Some(suffix) => write!(f, "-{suffix}"),
            None => Ok(()),
        }
    }
}

/// What a free-text list of codes held.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CodeList {
    /// The codes in the order found, each once.
    pub codes: Vec<TroubleCode>,
    /// Words that are neither codes nor known status words, as they stood, so that nothing is lost unseen.
    pub unread: Vec<String>,
}

impl CodeList {
    /// The normal form that is stored: codes separated by one space.
    pub fn normalised(&self) -> String {
        let codes: Vec<String> = self.codes.iter().map(TroubleCode::to_string).collect();
        codes.join(" ")
    }

    /// The one cylinder that the misfire codes name; `None` if they name none or several.
    pub fn misfire_cylinder(&self) -> Option<u8> {
        let mut cylinders = self.codes.iter().filter_map(TroubleCode::misfire_cylinder);
        let first = cylinders.next()?;
        cylinders.all(|c| c == first).then_some(first)
    }
}

/// Words that exports put beside codes: states of a code, filler, and the ways of saying "none".
const STATUS_WORDS: [&str; 30] = [
    "pending",
    "confirmed",
    "permanent",
    "stored",
    "current",
    "history",
    "historic",
    "active",
    "inactive",
    "intermittent",
    "present",
    "passive",
    "and",
    "code",
    "codes",
    "dtc",
    "dtcs",
    "none",
    "no",
    "n/a",
    "na",
    "nil",
    "mil",
    "on",
    "off",
    "set",
    "status",
    "with",
    "test",
    "failed",
];

/// Reads a list such as `P0303, P0303-00; 0301 / p0420 pending`: codes in their order, each once, suffix kept.
///
/// A code with a suffix and the same code without one are two entries, because they are two statements.
pub fn parse_list(text: &str) -> CodeList {
    let mut list = CodeList::default();
    let is_separator =
        |c: char| c.is_whitespace() || matches!(c, ',' | ';' | '|' | '+' | '&' | '(' | ')');
    for word in text.split(is_separator) {
        // A slash separates codes, but "n/a" is one word.
        let parts: Vec<&str> = match STATUS_WORDS.contains(&word.to_lowercase().as_str()) {
            true => Vec::new(),
            false => word.split('/').collect(),
        };
        for part in parts {
            let part = part.trim_matches(|c: char| !c.is_alphanumeric());
            if part.is_empty() || STATUS_WORDS.contains(&part.to_lowercase().as_str()) {
                continue;
            }
            match TroubleCode::parse(part) {
                Some(code) if !list.codes.contains(&code) => list.codes.push(code),
                Some(_) => {}
                None => list.unread.push(part.to_owned()),
            }
        }
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn code(text: &str) -> TroubleCode {
        TroubleCode::parse(text).unwrap_or_else(|| panic!("{text} is a code"))
    }

    #[test]
    fn reads_the_habits_of_exports() {
        for (text, normal) in [
            ("P0303", "P0303"),
            (" p0303 ", "P0303"),
            ("0303", "P0303"),
            ("P-0303", "P0303"),
            ("P 0303", "P0303"),
            ("P0303-00", "P0303-00"),
            ("P-0303-1f", "P0303-1F"),
            ("P0303:00", "P0303-00"),
            ("P030300", "P0303-00"),
            ("u0100", "U0100"),
            ("P2BAD", "P2BAD"),
        ] {
            assert_eq!(code(text).to_string(), normal, "{text}");
        }
        for text in [
            "",
            "P03",
            "X0303",
            "P4303",
            "P03G3",
            "P0303-001",
            "03030",
            "é303",
            "P0303-é",
        ] {
            assert_eq!(TroubleCode::parse(text), None, "{text}");
        }
    }

    #[test]
    fn reads_messy_lists() {
        let list =
            parse_list("P0303, P0303-00; 0301 / p0420 pending; P0303|see note P0171(stored)");
        assert_eq!(list.normalised(), "P0303 P0303-00 P0301 P0420 P0171");
        assert_eq!(list.unread, ["see", "note"]);
        assert_eq!(list.misfire_cylinder(), None);
        assert_eq!(
            parse_list("P0303 P0303-00 P0420").misfire_cylinder(),
            Some(3)
        );
        assert_eq!(parse_list("P0301/P0302").normalised(), "P0301 P0302");
        for text in ["", "none", "N/A", " - ", "no codes"] {
            assert_eq!(parse_list(text), CodeList::default(), "{text}");
        }
    }

    #[test]
    fn a_coil_letter_is_no_cylinder() {
        assert_eq!(code("P0351").coil_letter(), Some('A'));
        assert_eq!(code("P0351").misfire_cylinder(), None);
        assert_eq!(code("P0350").coil_letter(), None);
        assert_eq!(code("P0363").coil_letter(), None);
    }

    #[test]
    fn families_do_not_leak_into_each_other() {
        assert_eq!(code("P0260").injector(), None);
        assert_eq!(code("P0297").injector(), None);
        assert_eq!(code("P0213").injector(), None);
        assert_eq!(code("C0301").misfire_cylinder(), None);
        assert_eq!(code("P1301").misfire_cylinder(), None);
        assert_eq!(code("P030A").misfire_cylinder(), None);
        assert!(code("P0300").is_misfire() && !code("P0315").is_misfire());
    }

    proptest! {
        /// Every two-byte word has a text, and that text reads back to itself.
        #[test]
        fn words_read_back(word: u16) {
            let code = TroubleCode::from_word(word);
            prop_assert_eq!(TroubleCode::parse(code.base()), Some(code));
        }

        /// No text whatever makes the reader fail, and what it kept is normal.
        #[test]
        fn any_text_is_read(text in ".{0,60}") {
            for code in parse_list(&text).codes {
                prop_assert_eq!(TroubleCode::parse(&code.to_string()), Some(code));
            }
        }
    }
}
