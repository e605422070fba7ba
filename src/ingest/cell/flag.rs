//! Yes and no, as exports write them.

use crate::ingest::rule::{Reason, Rejection};

const YES: &[&str] = &[
    "1", "true", "t", "yes", "y", "x", "ja", "j", "oui", "o", "si", "s\u{ed}", "s",
];
const NO: &[&str] = &["0", "false", "f", "no", "n", "-", "nein", "non"];

/// Reads a truth value; the cell must not be empty.
pub fn parse(text: &str) -> Result<bool, Rejection> {
    let word = text.to_lowercase();
    if YES.contains(&word.as_str()) {
        Ok(true)
    } else if NO.contains(&word.as_str()) {
        Ok(false)
    } else {
        Err(Rejection::with_hint(Reason::UnknownCode, "yes or no"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_the_words_of_four_languages() {
        assert_eq!(parse("Ja"), Ok(true));
        assert_eq!(parse("non"), Ok(false));
        assert!(parse("perhaps").is_err());
    }
}
