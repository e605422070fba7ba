//! Months written as words, in English, German, French and Spanish.

/// Beginnings that tell the month in all four languages, longest first where one begins another.
const BEGINNINGS: &[(&str, i8)] = &[
    ("jan", 1),
    ("j\u{e4}n", 1),
    ("ene", 1),
    ("feb", 2),
    ("fev", 2),
    ("f\u{e9}v", 2),
    ("mar", 3),
    ("m\u{e4}r", 3),
    ("maer", 3),
    ("mrz", 3),
    ("apr", 4),
    ("avr", 4),
    ("abr", 4),
    ("may", 5),
    ("mai", 5),
    ("juin", 6),
    ("jun", 6),
    ("juil", 7),
    ("jul", 7),
    ("aug", 8),
    ("aou", 8),
    ("ao\u{fb}", 8),
    ("ago", 8),
    ("sep", 9),
    ("set", 9),
    ("oct", 10),
    ("okt", 10),
    ("nov", 11),
    ("dec", 12),
    ("dez", 12),
    ("d\u{e9}c", 12),
    ("dic", 12),
];

/// The month (1..=12) that a word of at least three letters names.
pub fn month(word: &str) -> Option<i8> {
    let word = word.trim_end_matches('.').to_lowercase();
    let whole = word.chars().all(char::is_alphabetic);
    BEGINNINGS
        .iter()
        .find(|(beginning, _)| whole && word.starts_with(beginning))
        .map(|(_, month)| *month)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tells_months_apart_in_four_languages() {
        for (word, number) in [
            ("January", 1),
            ("Januar", 1),
            ("janvier", 1),
            ("enero", 1),
            ("M\u{e4}rz", 3),
            ("mars", 3),
            ("marzo", 3),
            ("avril", 4),
            ("abril", 4),
            ("Mai", 5),
            ("mayo", 5),
            ("juin", 6),
            ("Juni", 6),
            ("junio", 6),
            ("juillet", 7),
            ("Juli", 7),
            ("julio", 7),
            ("ao\u{fb}t", 8),
            ("agosto", 8),
            ("septiembre", 9),
            ("Okt.", 10),
            ("octobre", 10),
            ("Dezember", 12),
            ("d\u{e9}cembre", 12),
            ("diciembre", 12),
        ] {
            assert_eq!(month(word), Some(number), "{word}");
        }
        assert_eq!(month("ma"), None);
        assert_eq!(month("jan2"), None);
    }
}
