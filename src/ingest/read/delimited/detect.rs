//! Which mark is between the cells, when the mapping does not say.

use super::super::record::RawRecord;
use super::split::{Found, split};

/// Marks tried, the likelier first.
const CANDIDATES: [u8; 4] = [b',', b';', b'\t', b'|'];

/// How many records are looked at.
const SAMPLE: usize = 50;

/// The name of a delimiter in messages and mapping files.
pub(super) fn delimiter_name(delimiter: u8) -> String {
    match delimiter {
        b'\t' => "tab".to_string(),
        other => char::from(other).to_string(),
    }
}

/// The delimiter under which the first records have the most equal and then the most cells; `None` if none splits the header.
pub(super) fn detect_delimiter(sample: &[u8], at_end: bool) -> Option<u8> {
    let mut best: Option<(u64, usize, u8)> = None;
    for candidate in CANDIDATES {
        let Some((equal_per_mille, width)) = score(sample, at_end, candidate) else {
            continue;
        };
        if best.is_none_or(|(e, w, _)| (equal_per_mille, width) > (e, w)) {
            best = Some((equal_per_mille, width, candidate));
        }
    }
    best.map(|(_, _, candidate)| candidate)
}

/// Share (in thousandths) of sampled records with as many cells as the first, and that number; `None` if it is one.
fn score(sample: &[u8], at_end: bool, delimiter: u8) -> Option<(u64, usize)> {
    let (mut record, mut doubled) = (RawRecord::new(), Vec::new());
    let (mut rest, mut width, mut equal, mut seen) = (sample, 0, 0u64, 0u64);
    while !rest.is_empty() && seen < SAMPLE as u64 {
        record.begin(1);
        let next = match split(rest, at_end, delimiter, &mut record, &mut doubled) {
            Found::Record { next, content, .. } => {
                if content > 0 {
                    if seen == 0 {
                        width = record.len();
                    }
                    seen += 1;
                    equal += u64::from(record.len() == width);
                }
                next
            }
            Found::NeedMore => break,
            Found::BadQuote => {
                seen += 1;
                super::super::source::first_line(rest, at_end).map_or(rest.len(), |l| l.1)
            }
        };
        rest = rest.get(next..).unwrap_or(&[]);
    }
    (width > 1).then(|| (equal * 1000 / seen.max(1), width))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prefers_the_mark_that_splits_every_line_alike() {
        assert_eq!(
            detect_delimiter(b"a;b;c\n1,5;2;3\n4;5,5;6\n", true),
            Some(b';')
        );
        assert_eq!(detect_delimiter(b"a\tb\n1, 2\t3\n", true), Some(b'\t'));
        assert_eq!(detect_delimiter(b"a|b\n\"x|y\"|2\n", true), Some(b'|'));
        assert_eq!(
            detect_delimiter(b"Order, line;Km\n1;2\n3;4\n", true),
            Some(b';')
        );
        assert_eq!(detect_delimiter(b"only\n1\n", true), None);
    }
}
