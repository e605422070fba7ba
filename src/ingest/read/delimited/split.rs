//! Finds one record and its cells in a piece of text.
//!
//! The rules are those of RFC 4180, strictly: inside a quoted cell a quote is doubled, and after the closing quote comes the
//! delimiter or the line's end. Common libraries read `"5/8" socket"` as if nothing were wrong; here it is damage, because
//! any reading of it is a guess, and because a guess about quotes is how a file loses half its rows unnoticed. A quote inside
//! an unquoted cell (`5/8" socket`) is an ordinary character.

use memchr::{memchr, memchr3};

use super::super::record::RawRecord;
use super::super::source::line_ends;

const QUOTE: u8 = b'"';

/// What was found at the start of the input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Found {
    /// A record: its bytes without the line end, its bytes with it, and how many line ends lie inside quoted cells.
    Record {
        content: usize,
        next: usize,
        inner_lines: u64,
    },
    /// The record does not end within the input, and more input may come.
    NeedMore,
    /// A quoted cell goes on after its closing quote, or never ends.
    BadQuote,
}

/// Splits the first record of `input`, adding its cells to `record` as ranges of `input`; the columns that hold doubled
/// quotes are added to `doubled`.
pub(super) fn split(
    input: &[u8],
    at_end: bool,
    delimiter: u8,
    record: &mut RawRecord,
    doubled: &mut Vec<usize>,
) -> Found {
    let mut pos = 0;
    let mut inner_lines = 0;
    loop {
        let stop = if input.get(pos) == Some(&QUOTE) {
            match closing_quote(input, pos + 1, at_end, delimiter) {
                Closing::At {
                    quote,
                    has_doubled,
                    has_lines,
                } => {
                    if has_doubled {
                        doubled.push(record.len());
                    }
                    record.push_range((pos + 1) as u32, quote as u32);
                    if has_lines {
                        inner_lines += line_ends(input.get(pos + 1..quote).unwrap_or(&[]));
                    }
                    quote + 1
                }
                Closing::NeedMore => return Found::NeedMore,
                Closing::Bad => return Found::BadQuote,
            }
        } else {
            let tail = input.get(pos..).unwrap_or(&[]);
            let stop = match memchr3(delimiter, b'\n', b'\r', tail) {
                Some(i) => pos + i,
                None if at_end => input.len(),
                None => return Found::NeedMore,
            };
            record.push_range(pos as u32, stop as u32);
            stop
        };
        if input.get(stop) == Some(&delimiter) {
            pos = stop + 1;
            continue;
        }
        let next = match (input.get(stop), input.get(stop + 1)) {
            (None, _) => stop,
            (Some(b'\r'), Some(b'\n')) => stop + 2,
            (Some(b'\r'), None) if !at_end => return Found::NeedMore,
            _ => stop + 1,
        };
        return Found::Record {
            content: stop,
            next,
            inner_lines,
        };
    }
}

enum Closing {
    At {
        quote: usize,
        has_doubled: bool,
        has_lines: bool,
    },
    NeedMore,
    Bad,
}

fn closing_quote(input: &[u8], mut from: usize, at_end: bool, delimiter: u8) -> Closing {
    let (mut has_doubled, mut has_lines) = (false, false);
    loop {
        let tail = input.get(from..).unwrap_or(&[]);
        let found = if has_lines {
            memchr(QUOTE, tail)
        } else {
            memchr3(QUOTE, b'\n', b'\r', tail)
        };
        let Some(i) = found else {
            return if at_end {
                Closing::Bad
            } else {
                Closing::NeedMore
            };
        };
        let quote = from + i;
        if input.get(quote) != Some(&QUOTE) {
            has_lines = true;
            from = quote + 1;
            continue;
        }
        match input.get(quote + 1) {
            Some(&QUOTE) => {
                has_doubled = true;
                from = quote + 2;
            }
            None if !at_end => return Closing::NeedMore,
            None | Some(b'\n' | b'\r') => {
                return Closing::At {
                    quote,
                    has_doubled,
                    has_lines,
                };
            }
            Some(&b) if b == delimiter => {
                return Closing::At {
                    quote,
                    has_doubled,
                    has_lines,
                };
            }
            Some(_) => return Closing::Bad,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(input: &str, at_end: bool) -> (Found, Vec<String>) {
        let (mut record, mut doubled) = (RawRecord::new(), Vec::new());
        record.begin(1);
        let found = split(input.as_bytes(), at_end, b',', &mut record, &mut doubled);
        record.set_raw(input);
        for column in doubled {
            record.unescape(column);
        }
        (found, record.iter().map(str::to_string).collect())
    }

    #[test]
    fn splits_quotes_and_line_ends() {
        let (found, got) = cells("a,\"b, \"\"c\"\"\r\nd\",\r\nnext", false);
        assert_eq!(got, ["a", "b, \"c\"\r\nd", ""]);
        assert_eq!(
            found,
            Found::Record {
                content: 16,
                next: 18,
                inner_lines: 1
            }
        );
        assert_eq!(cells("x,5/8\" socket", true).1, ["x", "5/8\" socket"]);
        assert_eq!(cells("\"\"", true).1, [""]);
    }

    #[test]
    fn waits_where_the_next_byte_decides() {
        for input in ["a,b", "a,b\r", "a,\"b", "a,\"b\"", "a,\"b\"\r"] {
            assert_eq!(cells(input, false).0, Found::NeedMore, "{input:?}");
        }
    }

    #[test]
    fn refuses_sloppy_and_open_quotes() {
        assert_eq!(cells("\"5/8\" socket\",x\n", true).0, Found::BadQuote);
        assert_eq!(cells("a,\"b\nc\n", true).0, Found::BadQuote);
    }
}
