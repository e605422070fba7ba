//! Vehicle identification numbers against the regulation's worked example and an independent program.

use boretally::domain::vin::{self, Unusable, Vin};

/// Valid vectors: two seen in public sources (the one with check digit X, and seventeen ones), the others invented
/// with the check digit computed by an independent Python program of the rule of 49 CFR 565.15.
const VALID: [&str; 13] = [
    "1M8GDM9AXKP042788",
    "11111111111111111",
    "ZZ9TEST03A0000000",
    "ZZ9TEST07A0000002",
    "ZZ9TEST00A0000004",
    "ZZ9TEST04A0000006",
    "ZZ9TEST08A0000008",
    "ZZ9TEST06A0000010",
    "ZZ9TEST0XA0000012",
    "ZZ9TEST03A0000014",
    "ZZ9TEST07A0000016",
    "ZZ9TEST00A0000018",
    "ZZ9TEST09A0000020",
];

#[test]
fn check_digit_alphabet_and_length() {
    for text in VALID {
        assert_eq!(vin::parse(text), Vin::Good(text.to_owned()));
    }
    for text in [
        "1M8GDM9A1KP042788",
        "11111111211111111",
        "1M8GDM9AXKP042789",
    ] {
        assert_eq!(vin::parse(text), Vin::Flagged(text.to_owned()));
    }
    for text in [
        "1M8GDM9AXKPO42788",
        "1M8GDM9AXKP04278I",
        "QM8GDM9AXKP042788",
    ] {
        assert_eq!(
            vin::parse(text),
            Vin::Unusable(Unusable::Alphabet),
            "{text}"
        );
    }
    for text in ["1M8GDM9AXKP04278", "1M8GDM9AXKP0427888"] {
        assert_eq!(vin::parse(text), Vin::Unusable(Unusable::Length), "{text}");
    }
    assert_eq!(vin::parse(""), Vin::Unusable(Unusable::Empty));
}

/// 49 CFR 565.15(c), check-digit table, worked example: the products, total 411, remainder 4.
#[test]
fn worked_example_of_the_regulation() {
    let expected = [8, 49, 24, 5, 32, 15, 18, 80, 0, 45, 56, 7, 6, 40, 12, 12, 2];
    let products = vin::products("1G4AH59H45G118341").expect("17 characters of the alphabet");
    assert_eq!(products, expected);
    assert_eq!(products.iter().sum::<u32>(), 411);
    assert_eq!(411 % 11, 4);
    assert_eq!(vin::check_digit("1G4AH59H45G118341"), Some('4'));
    // Recomputed by an independent Python program: totals 351 (X), 89 (1), 353 (1).
    for (text, total, digit) in [
        ("1M8GDM9AXKP042788", 351, 'X'),
        ("11111111111111111", 89, '1'),
        ("1M8GDM9AXKP042789", 353, '1'),
    ] {
        let products = vin::products(text).expect("17 characters of the alphabet");
        assert_eq!(products.iter().sum::<u32>(), total, "{text}");
        assert_eq!(vin::check_digit(text), Some(digit), "{text}");
    }
}

/// 49 CFR 565.15(d), table VII, from memory.
#[test]
fn model_year_letters() {
    let codes = "ABCDEFGHJKLMNPRSTVWXY123456789";
    for (code, year) in codes.chars().zip(1980..) {
        let old = format!("ZZ9AAA0A0{code}0000000");
        let new = format!("ZZ9AAAAA0{code}0000000");
        assert_eq!(vin::model_years(&old), Some((year, year + 30)), "{code}");
        assert_eq!(vin::model_year_us_light(&old), Some(year), "{code}");
        assert_eq!(vin::model_year_us_light(&new), Some(year + 30), "{code}");
    }
    for code in ['I', 'O', 'Q', 'U', 'Z', '0'] {
        assert_eq!(
            vin::model_years(&format!("ZZ9AAA0A0{code}0000000")),
            None,
            "{code}"
        );
    }
}

/// Which one-character errors slip through: those between characters of one value and no others. Closed form: four
/// values are shared by 3 characters and five by 4, so 4 x 3 x 2 + 5 x 4 x 3 = 84 of 33 x 32 ordered pairs (8 %).
#[test]
fn what_the_check_digit_cannot_see() {
    let alphabet: Vec<char> = ('0'..='9')
        .chain('A'..='Z')
        .filter(|c| !"IOQ".contains(*c))
        .collect();
    assert_eq!(alphabet.len(), 33);
    for at in (0..17).filter(|at| *at != 8) {
        let digit_with = |c: char| {
            let text: String = (0..17).map(|i| if i == at { c } else { '1' }).collect();
            vin::check_digit(&text)
        };
        let pairs = alphabet
            .iter()
            .flat_map(|a| alphabet.iter().map(move |b| (*a, *b)));
        let missed = pairs.filter(|(a, b)| a != b && digit_with(*a) == digit_with(*b));
        assert_eq!(missed.count(), 84, "position {}", at + 1);
    }
}
