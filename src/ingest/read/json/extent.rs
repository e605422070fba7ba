//! Finds where a JSON value ends without understanding it, so that one broken record does not end the file.

use memchr::memchr2;

/// Where the value at the start of the input ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Extent {
    /// After so many bytes.
    Whole(usize),
    /// Not within the input.
    Open,
    /// A closing bracket of the wrong kind after so many bytes.
    Mismatch,
}

/// The extent of the value that begins with the first byte. `stack` is only kept to be reused.
pub(super) fn value_extent(input: &[u8], stack: &mut Vec<u8>) -> Extent {
    stack.clear();
    let mut pos = 0;
    while let Some(&byte) = input.get(pos) {
        match byte {
            b'{' => stack.push(b'}'),
            b'[' => stack.push(b']'),
            b'}' | b']' if stack.is_empty() => return Extent::Whole(pos),
            b'}' | b']' if stack.pop() != Some(byte) => return Extent::Mismatch,
            b'"' => match string_end(input, pos + 1) {
                Some(end) => pos = end,
                None => return Extent::Open,
            },
            b',' | b' ' | b'\t' | b'\n' | b'\r' if stack.is_empty() => {
                return Extent::Whole(pos);
            }
            _ => {}
        }
        pos += 1;
        if stack.is_empty() && matches!(byte, b'}' | b']' | b'"') {
            return Extent::Whole(pos);
        }
    }
    Extent::Open
}

/// The place of the quote that ends a string whose text begins at `from`.
fn string_end(input: &[u8], mut from: usize) -> Option<usize> {
    loop {
        let at = from + memchr2(b'"', b'\\', input.get(from..)?)?;
        if input.get(at) == Some(&b'"') {
            return Some(at);
        }
        from = at + 2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_ends_past_strings_and_brackets() {
        let mut stack = Vec::new();
        let mut extent = |text: &str| value_extent(text.as_bytes(), &mut stack);
        assert_eq!(extent(r#"{"a":"}\"]","b":[1,{}]}, {"#), Extent::Whole(23));
        assert_eq!(extent("12, 3"), Extent::Whole(2));
        assert_eq!(extent("\"x,y\"]"), Extent::Whole(5));
        assert_eq!(extent(r#"{"a":"b"#), Extent::Open);
        assert_eq!(extent(r#"{"a":1]"#), Extent::Mismatch);
    }
}
