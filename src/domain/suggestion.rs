//! "Did you mean ...?": the known word nearest to what was typed.

use strsim::{jaro_winkler, normalized_damerau_levenshtein};

/// Below this similarity a guess would puzzle more than help (chosen by trying misspellings of catalog ids).
const LEAST_SIMILARITY: f64 = 0.75;

/// The candidate most like `typed`, if any is like it at all; ties go to the alphabetically first.
///
/// Case, spaces, hyphens and underscores make no difference. A candidate that holds every word typed
/// ("exhaust valve" for `exhaust_valve_leak`) counts as like it.
pub fn closest<'a>(typed: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<String> {
    let wanted = plain(typed);
    if wanted.is_empty() {
        return None;
    }
    let mut best: Option<(f64, &str)> = None;
    for candidate in candidates {
        let score = similarity(&wanted, &plain(candidate));
        let better = match best {
            None => true,
            Some((s, word)) => score > s || (score == s && candidate < word),
        };
        if score >= LEAST_SIMILARITY && better {
            best = Some((score, candidate));
        }
    }
    best.map(|(_, word)| word.to_owned())
}

/// Between 0 (nothing in common) and 1 (the same).
fn similarity(wanted: &str, candidate: &str) -> f64 {
    let edits = normalized_damerau_levenshtein(wanted, candidate);
    // Jaro-Winkler alone is generous to words that share only a beginning.
    let spelling = (jaro_winkler(wanted, candidate) + edits) / 2.0;
    let words: Vec<&str> = candidate.split(' ').collect();
    let long_enough = wanted.chars().count() >= 4;
    if long_enough && wanted.split(' ').all(|w| words.contains(&w)) {
        return spelling.max(0.8 + 0.2 * edits);
    }
    spelling
}

/// Lower case, with runs of spaces, hyphens and underscores as one space.
pub(crate) fn plain(text: &str) -> String {
    let lower = text.to_lowercase();
    lower
        .split(|c: char| c.is_whitespace() || c == '_' || c == '-')
        .filter(|w| !w.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    const WORDS: [&str; 4] = [
        "exhaust_valve_leak",
        "intake_valve_leak",
        "spark_plug",
        "head_gasket",
    ];

    #[test]
    fn finds_misspellings() {
        for (typed, expected) in [
            ("exaust_valve_leak", "exhaust_valve_leak"),
            ("Spark Plugs", "spark_plug"),
            ("headgasket", "head_gasket"),
            ("exhaust valve", "exhaust_valve_leak"),
            ("gasket", "head_gasket"),
        ] {
            assert_eq!(closest(typed, WORDS).as_deref(), Some(expected), "{typed}");
        }
    }

    #[test]
    fn says_nothing_rather_than_nonsense() {
        for typed in ["", "transmission", "xyz", "   "] {
            assert_eq!(closest(typed, WORDS), None, "{typed}");
        }
    }

    #[test]
    fn ties_do_not_depend_on_order() {
        assert_eq!(
            closest("ab1", ["ab3", "ab2"]),
            closest("ab1", ["ab2", "ab3"])
        );
    }
}
