//! What surrounds a value without belonging to it: spaces of every kind, typographic quotes, byte-order marks.

/// The text without surrounding white space (no-break spaces, zero-width marks), control characters and quotes.
///
/// Straight and typographic quotes are taken off only in pairs, so that 5" stays 5".
pub fn trim(text: &str) -> &str {
    let bytes = text.as_bytes();
    // The usual cell: plain ASCII without anything to take off.
    if let (Some(first), Some(last)) = (bytes.first(), bytes.last())
        && first.is_ascii_alphanumeric()
        && last.is_ascii_alphanumeric()
    {
        return text;
    }
    let mut text = text.trim_matches(is_blank);
    while let Some(inner) = unquote(text) {
        text = inner.trim_matches(is_blank);
    }
    text
}

fn is_blank(c: char) -> bool {
    c.is_whitespace()
        || c.is_control()
        || matches!(
            c,
            '\u{200b}' | '\u{200c}' | '\u{200d}' | '\u{2060}' | '\u{feff}'
        )
}

fn unquote(text: &str) -> Option<&str> {
    let (first, last) = (text.chars().next()?, text.chars().next_back()?);
    let pair = matches!(
        (first, last),
        ('"', '"')
            | ('\'', '\'')
            | ('\u{201c}', '\u{201d}')
            | ('\u{201e}', '\u{201c}')
            | ('\u{201e}', '\u{201d}')
            | ('\u{2018}', '\u{2019}')
            | ('\u{201a}', '\u{2018}')
            | ('\u{ab}', '\u{bb}')
    );
    let inner = text.strip_prefix(first)?.strip_suffix(last)?;
    pair.then_some(inner)
}

/// The form in which code words are compared: lower case, runs of white space and the signs `-`, `_`, `/` as one space.
pub fn normal_form(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut gap = false;
    for c in trim(text).chars() {
        if is_blank(c) || matches!(c, '-' | '_' | '/' | '\u{2010}'..='\u{2014}') {
            gap = !out.is_empty();
            continue;
        }
        if gap {
            out.push(' ');
            gap = false;
        }
        out.extend(c.to_lowercase());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn takes_off_what_does_not_belong() {
        assert_eq!(trim("\u{a0} 0042 \u{202f}"), "0042");
        assert_eq!(trim("\u{201c}Oak 1.6\u{201d}"), "Oak 1.6");
        assert_eq!(trim("\u{feff}'x'"), "x");
        assert_eq!(trim("5\""), "5\"");
        assert_eq!(trim("\""), "\"");
        assert_eq!(trim("  "), "");
    }

    #[test]
    fn code_words_compare_without_case_and_signs() {
        assert_eq!(normal_form(" BURNT  Exh-Vlv"), "burnt exh vlv");
        assert_eq!(normal_form("other_unmapped"), "other unmapped");
        assert_eq!(normal_form("/x/"), "x");
    }
}
