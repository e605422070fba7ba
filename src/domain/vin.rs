//! Vehicle identification numbers: what a row's identity is worth.
//!
//! Seventeen characters, digits and letters without I, O and Q, a check digit in position 9 and the model year in
//! position 10 (49 CFR 565, ISO 3779). The check digit is mandatory in the United States and Canada only, so a wrong
//! one is a flag; a wrong length or letter makes the identity unusable. Nothing is repaired in silence: an export
//! that passed through a spreadsheet may hold a number of many vehicles.

/// What was found in an identity field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Vin {
    /// Seventeen allowed characters with the right check digit, in normal form.
    Good(String),
    /// Seventeen allowed characters in normal form, but the check digit is wrong (or its style does not use one).
    Flagged(String),
    /// Not usable as an identity.
    Unusable(Unusable),
}

/// Why an identity is not usable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unusable {
    /// The field is empty.
    Empty,
    /// Not 17 characters (short ones were used before model year 1981).
    Length,
    /// A character outside the alphabet: I, O, Q or no letter or digit at all.
    Alphabet,
    /// A spreadsheet turned it into a number: `1.23E+16`, or digits beyond the fifteenth replaced by zeros.
    SpreadsheetDamage,
}

impl Unusable {
    /// Reason id, as the quarantine counts it.
    pub fn id(self) -> &'static str {
        match self {
            Self::Empty => "vin-empty",
            Self::Length => "vin-length",
            Self::Alphabet => "vin-alphabet",
            Self::SpreadsheetDamage => "vin-spreadsheet-damage",
        }
    }
}

/// Characters of a VIN.
pub const LENGTH: usize = 17;

/// Position 9, counted from 0.
const CHECK: usize = 8;

/// Weights of the positions (49 CFR 565.15(c), table IV).
const WEIGHTS: [u32; LENGTH] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];

/// Codes of position 10 in the order of their years, 30 to a cycle (49 CFR 565.15(d), table VII, from memory).
const YEAR_CODES: &[u8; 30] = b"ABCDEFGHJKLMNPRSTVWXY123456789";

/// Judges an identity field that should hold a VIN.
pub fn parse(text: &str) -> Vin {
    let vin = normalise(text);
    if vin.is_empty() {
        Vin::Unusable(Unusable::Empty)
    } else if is_spreadsheet_damage(&vin) {
        Vin::Unusable(Unusable::SpreadsheetDamage)
    } else if vin.chars().count() != LENGTH {
        Vin::Unusable(Unusable::Length)
    } else {
        match check_digit(&vin) {
            None => Vin::Unusable(Unusable::Alphabet),
            Some(digit) if vin.chars().nth(CHECK) == Some(digit) => Vin::Good(vin),
            Some(_) => Vin::Flagged(vin),
        }
    }
}

/// Judges the identity of a vehicle of known model year: before 1981 a VIN may be shorter, so 5 to 16 letters and
/// digits are then taken as they are, flagged.
pub fn parse_for_year(text: &str, model_year: i32) -> Vin {
    match parse(text) {
        Vin::Unusable(Unusable::Length) if model_year < 1981 => {
            let vin = normalise(text);
            let fits = (5..LENGTH).contains(&vin.len());
            match fits && vin.chars().all(|c| c.is_ascii_alphanumeric()) {
                true => Vin::Flagged(vin),
                false => Vin::Unusable(Unusable::Length),
            }
        }
        other => other,
    }
}

/// Upper case without spaces, hyphens, full stops at the end, quotation marks or a leading apostrophe.
pub fn normalise(text: &str) -> String {
    text.trim()
        .trim_matches(|c: char| matches!(c, '\'' | '"' | '*' | '='))
        .chars()
        .filter(|c| {
            !c.is_whitespace()
                && !matches!(c, '-' | '\u{2010}'..='\u{2014}' | '\u{feff}' | '\u{200b}')
        })
        .flat_map(char::to_uppercase)
        .collect()
}

/// Value of a character (49 CFR 565.15(c), table III); `None` outside the alphabet.
fn value(c: char) -> Option<u32> {
    match c {
        '0'..='9' => c.to_digit(10),
        'A'..='H' => Some(u32::from(c) - u32::from('A') + 1),
        'J'..='N' => Some(u32::from(c) - u32::from('J') + 1),
        'P' => Some(7),
        'R' => Some(9),
        'S'..='Z' => Some(u32::from(c) - u32::from('S') + 2),
        _ => None,
    }
}

/// The 17 products of value and weight; `None` unless there are 17 characters of the alphabet. Position 9 weighs 0.
pub fn products(vin: &str) -> Option<[u32; LENGTH]> {
    let mut products = [0; LENGTH];
    let mut chars = vin.chars();
    for (product, weight) in products.iter_mut().zip(WEIGHTS) {
        *product = value(chars.next()?)? * weight;
    }
    chars.next().is_none().then_some(products)
}

/// The check digit that position 9 should hold: sum of the products modulo 11, 10 written X.
pub fn check_digit(vin: &str) -> Option<char> {
    let remainder = products(vin)?.iter().sum::<u32>() % 11;
    match remainder {
        10 => Some('X'),
        r => char::from_digit(r, 10),
    }
}

/// The two model years that position 10 can mean, 30 years apart; `None` if it is no year code.
pub fn model_years(vin: &str) -> Option<(i32, i32)> {
    let code = *vin.as_bytes().get(9)?;
    let at = YEAR_CODES.iter().position(|c| *c == code)?;
    let first = 1980 + i32::try_from(at).ok()?;
    Some((first, first + 30))
}

/// The model year of a light vehicle made for the United States market: a digit in position 7 means the cycle
/// 1980-2009, a letter 2010-2039 (49 CFR 565.15(b) and 565.25(b)). Elsewhere, and for heavy vehicles, position 7
/// says nothing.
pub fn model_year_us_light(vin: &str) -> Option<i32> {
    let (first, second) = model_years(vin)?;
    match vin.as_bytes().get(6)? {
        b'0'..=b'9' => Some(first),
        b'A'..=b'Z' => Some(second),
        _ => None,
    }
}

/// A number in a spreadsheet keeps 15 digits: what was longer comes back as `1.23E+16`, with a decimal part, or with
/// zeros behind the fifteenth digit.
///
/// Seventeen digits that truly end in two zeros are refused with them: the two cannot be told apart.
fn is_spreadsheet_damage(vin: &str) -> bool {
    let number = vin.replace(',', ".");
    let has_point_or_exponent = number.contains('.') || number.contains("E+");
    if has_point_or_exponent && number.parse::<f64>().is_ok() {
        return true;
    }
    let all_digits = vin.chars().all(|c| c.is_ascii_digit());
    all_digits && vin.len() >= 16 && vin.bytes().skip(15).all(|b| b == b'0')
}

/// VINs that a person may have meant who wrote O for 0, I for 1 or Q for 0 (or 9, read carelessly), and that pass
/// the check digit. To be shown, never applied: whether one of them is right only a known vehicle can tell.
///
/// Empty unless the text has 17 characters and at least one of those letters.
pub fn suggest_repairs(text: &str) -> Vec<String> {
    let vin = normalise(text);
    let wrong = vin.chars().filter(|c| matches!(c, 'O' | 'I' | 'Q')).count();
    // Each wrong letter has two readings at most; beyond eight the field is not a mistyped VIN.
    if wrong == 0 || wrong > 8 || vin.chars().count() != LENGTH {
        return Vec::new();
    }
    let mut candidates = vec![String::with_capacity(LENGTH)];
    for c in vin.chars() {
        let readings: &[char] = match c {
            'O' => &['0'],
            'I' => &['1'],
            'Q' => &['0', '9'],
            _ => std::slice::from_ref(&c),
        };
        candidates = candidates
            .iter()
            .flat_map(|begun| readings.iter().map(move |r| format!("{begun}{r}")))
            .collect();
    }
    candidates.retain(|c| matches!(parse(c), Vin::Good(_)));
    candidates
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn tells_good_from_flagged_from_unusable() {
        // Made-up vectors, computed by hand from the rule.
        for good in [
            "11111111111111111",
            "000AA00A8A0000001",
            "000AA00AXA0000002",
            "0AB1C2D32F0123456",
        ] {
            assert_eq!(parse(good), Vin::Good(good.to_owned()));
        }
        assert_eq!(
            parse(" 0ab1c2d3-2f0123456 "),
            Vin::Good("0AB1C2D32F0123456".to_owned())
        );
        assert_eq!(
            parse("0AB1C2D33F0123456"),
            Vin::Flagged("0AB1C2D33F0123456".to_owned())
        );
        for (text, why) in [
            ("", Unusable::Empty),
            ("  ", Unusable::Empty),
            ("0AB1C2D32F012345", Unusable::Length),
            ("0AB1C2D32F01234567", Unusable::Length),
            ("OAB1C2D32F0123456", Unusable::Alphabet),
            ("0AB1C2D32F01234é6", Unusable::Alphabet),
            ("1.23E+16", Unusable::SpreadsheetDamage),
            ("1,11111111111111E+16", Unusable::SpreadsheetDamage),
            ("11111111111111100", Unusable::SpreadsheetDamage),
            ("1111111111111110", Unusable::SpreadsheetDamage),
            ("11111111111111111.0", Unusable::SpreadsheetDamage),
        ] {
            assert_eq!(parse(text), Vin::Unusable(why), "{text}");
        }
    }

    #[test]
    fn short_ones_only_before_1981() {
        assert_eq!(
            parse_for_year("ab12345", 1975),
            Vin::Flagged("AB12345".to_owned())
        );
        assert_eq!(
            parse_for_year("ab12345", 1981),
            Vin::Unusable(Unusable::Length)
        );
        assert_eq!(parse_for_year("ab1", 1975), Vin::Unusable(Unusable::Length));
    }

    #[test]
    fn shows_repairs_without_applying_them() {
        assert_eq!(suggest_repairs("OAB1C2D32FO123456"), ["0AB1C2D32F0123456"]);
        assert_eq!(suggest_repairs("0ABIC2D32F0123456"), ["0AB1C2D32F0123456"]);
        assert!(suggest_repairs("0AB1C2D32F0123456").is_empty());
        assert!(suggest_repairs("OAB1C2D33F0123456").is_empty());
        assert!(suggest_repairs("OOOOOOOOOOOOOOOOO").is_empty());
        assert_eq!(
            parse("OAB1C2D32F0123456"),
            Vin::Unusable(Unusable::Alphabet)
        );
    }

    fn any_vin() -> impl Strategy<Value = String> {
        proptest::string::string_regex("[A-HJ-NPR-Z0-9]{17}").expect("a pattern")
    }

    proptest! {
        /// With its own check digit written in, any 17 characters of the alphabet pass.
        #[test]
        fn own_check_digit_passes(vin in any_vin()) {
            let digit = check_digit(&vin).expect("in the alphabet");
            let right = format!("{}{digit}{}", &vin[..CHECK], &vin[CHECK + 1..]);
            // An all-digit one that ends in zeros looks like a spreadsheet's.
            prop_assume!(!is_spreadsheet_damage(&right));
            prop_assert_eq!(parse(&right), Vin::Good(right.clone()));
        }

        /// Neighbours of different value, swapped, never keep the check digit: the sum changes by the product of two
        /// differences, neither a multiple of the prime 11.
        #[test]
        fn transposition_is_caught(vin in any_vin(), at in 0usize..16) {
            prop_assume!(at != CHECK && at + 1 != CHECK);
            let mut swapped: Vec<char> = vin.chars().collect();
            swapped.swap(at, at + 1);
            let swapped: String = swapped.into_iter().collect();
            let values = |t: &str| t.chars().map(value).collect::<Vec<_>>();
            prop_assume!(values(&vin) != values(&swapped));
            prop_assert_ne!(check_digit(&vin), check_digit(&swapped));
        }

        /// No text makes it fail.
        #[test]
        fn any_text_is_judged(text in ".{0,40}") {
            parse(&text);
            suggest_repairs(&text);
            model_years(&text);
        }
    }
}
