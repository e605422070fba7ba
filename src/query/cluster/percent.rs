//! Texts inside addresses: RFC 3986, section 2.1.

/// The text with all but letters, digits, `-`, `.`, `_`, `~` and the signs of `kept` in hexadecimal.
pub fn encoded(text: &str, kept: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric()
            || b"-._~".contains(&byte)
            || kept.as_bytes().contains(&byte)
        {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_unreserved_signs_and_those_kept_stay() {
        // RFC 3986, section 2.3: unreserved; the rest is encoded octet by octet.
        assert_eq!(encoded("aZ09-._~/ \u{e4}", ""), "aZ09-._~%2F%20%C3%A4");
        assert_eq!(encoded("/a*", "/"), "/a%2A");
    }
}
