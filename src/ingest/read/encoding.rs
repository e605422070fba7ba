//! Text encodings: found from a byte-order mark, decoded strictly.
//!
//! Text that is not UTF-8 is transcoded on its way in. What cannot be decoded is never replaced by a stand-in character: it
//! becomes a byte that is no UTF-8, and so the record that holds it is found damaged with its line.

use std::io::{self, Read};

use encoding_rs::{Decoder, DecoderResult, UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::format::Encoding;

/// A byte that never occurs in UTF-8.
const NO_TEXT: u8 = 0xff;

/// Positions that Windows-1252 leaves undefined.
const UNDEFINED_1252: [u8; 5] = [0x81, 0x8d, 0x8f, 0x90, 0x9d];

/// The encoding in use and the length of the byte-order mark to skip.
///
/// A mark wins over what was told, since no text begins with one by accident. Without either, text in which every other byte
/// is zero is UTF-16; everything else is taken for UTF-8.
pub(super) fn detect(head: &[u8], told: Option<Encoding>) -> (Encoding, usize) {
    match head {
        [0xef, 0xbb, 0xbf, ..] => return (Encoding::Utf8, 3),
        [0xff, 0xfe, ..] => return (Encoding::Utf16Le, 2),
        [0xfe, 0xff, ..] => return (Encoding::Utf16Be, 2),
        _ => {}
    }
    if let Some(encoding) = told {
        return (encoding, 0);
    }
    let zeros = |offset: usize| {
        head.iter()
            .skip(offset)
            .step_by(2)
            .filter(|b| **b == 0)
            .count()
    };
    let (even, odd, pairs) = (zeros(0), zeros(1), head.len() / 2);
    // More than half of the high bytes are zero in any Western text, and no low byte is.
    if pairs >= 4 && even == 0 && odd * 2 > pairs {
        (Encoding::Utf16Le, 0)
    } else if pairs >= 4 && odd == 0 && even * 2 > pairs {
        (Encoding::Utf16Be, 0)
    } else {
        (Encoding::Utf8, 0)
    }
}

/// Says which byte is no text.
pub(super) fn undecodable(bytes: &[u8], error: &std::str::Utf8Error, encoding: Encoding) -> String {
    let at = error.valid_up_to();
    let byte = bytes.get(at).copied().unwrap_or(0);
    let position = at + 1;
    match encoding {
        Encoding::Utf8 | Encoding::Windows1252 => {
            format!(
                "byte 0x{byte:02X} at position {position} is no text in {}",
                encoding.id()
            )
        }
        Encoding::Utf16Le | Encoding::Utf16Be => {
            format!(
                "half a character at position {position} is no text in {}",
                encoding.id()
            )
        }
    }
}

/// Reads text of another encoding as UTF-8.
pub(super) struct Transcoder<R> {
    inner: R,
    encoding: Encoding,
    decoder: Decoder,
    input: Vec<u8>,
    output: Vec<u8>,
    given: usize,
    done: bool,
}

impl<R: Read> Transcoder<R> {
    pub(super) fn new(inner: R, encoding: Encoding) -> Self {
        let from = match encoding {
            Encoding::Utf8 => encoding_rs::UTF_8,
            Encoding::Utf16Le => UTF_16LE,
            Encoding::Utf16Be => UTF_16BE,
            Encoding::Windows1252 => WINDOWS_1252,
        };
        Self {
            inner,
            encoding,
            decoder: from.new_decoder_without_bom_handling(),
            input: vec![0; 1 << 16],
            output: Vec::new(),
            given: 0,
            done: false,
        }
    }

    fn refill(&mut self) -> io::Result<()> {
        self.output.clear();
        self.given = 0;
        let n = self.inner.read(&mut self.input)?;
        self.done = n == 0;
        let input = self.input.get(..n).unwrap_or(&[]);
        if self.encoding == Encoding::Windows1252 {
            // The library maps the five undefined bytes to control characters; strictly they are no text.
            for piece in input.split_inclusive(|b| UNDEFINED_1252.contains(b)) {
                match piece.split_last() {
                    Some((last, before)) if UNDEFINED_1252.contains(last) => {
                        decode(&mut self.decoder, before, false, &mut self.output);
                        self.output.push(*last);
                    }
                    _ => decode(&mut self.decoder, piece, false, &mut self.output),
                }
            }
        } else {
            decode(&mut self.decoder, input, self.done, &mut self.output);
        }
        Ok(())
    }
}

fn decode(decoder: &mut Decoder, mut input: &[u8], last: bool, output: &mut Vec<u8>) {
    loop {
        let filled = output.len();
        let room = decoder
            .max_utf8_buffer_length_without_replacement(input.len())
            .unwrap_or(input.len().saturating_mul(3))
            .max(8);
        output.resize(filled + room, 0);
        let free = output.get_mut(filled..).unwrap_or(&mut []);
        let (result, read, written) = decoder.decode_to_utf8_without_replacement(input, free, last);
        output.truncate(filled + written);
        input = input.get(read..).unwrap_or(&[]);
        match result {
            DecoderResult::InputEmpty => return,
            DecoderResult::OutputFull => {}
            DecoderResult::Malformed(..) => output.push(NO_TEXT),
        }
    }
}

impl<R: Read> Read for Transcoder<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while self.given == self.output.len() {
            if self.done {
                return Ok(0);
            }
            self.refill()?;
        }
        let ready = self.output.get(self.given..).unwrap_or(&[]);
        let n = ready.len().min(buffer.len());
        if let (Some(to), Some(from)) = (buffer.get_mut(..n), ready.get(..n)) {
            to.copy_from_slice(from);
        }
        self.given += n;
        Ok(n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn transcode(bytes: &[u8], encoding: Encoding) -> Vec<u8> {
        let mut out = Vec::new();
        Transcoder::new(bytes, encoding)
            .read_to_end(&mut out)
            .unwrap();
        out
    }

    /// Gives one byte at a time: every boundary falls inside something.
    struct Drip<'a>(&'a [u8]);
    impl Read for Drip<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let n = self.0.len().min(1).min(buffer.len());
            buffer[..n].copy_from_slice(&self.0[..n]);
            self.0 = &self.0[n..];
            Ok(n)
        }
    }

    #[test]
    fn windows_1252_has_the_euro_and_five_holes() {
        assert_eq!(
            transcode(b"\x80 5 \x93ok\x94", Encoding::Windows1252),
            "€ 5 \u{201c}ok\u{201d}".as_bytes()
        );
        assert_eq!(transcode(b"a\x81b", Encoding::Windows1252), b"a\x81b");
    }

    #[test]
    fn utf_16_pairs_may_be_cut_anywhere() {
        let text = "Zündkerze 🔧";
        let le: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let mut out = Vec::new();
        Transcoder::new(Drip(&le), Encoding::Utf16Le)
            .read_to_end(&mut out)
            .unwrap();
        assert_eq!(out, text.as_bytes());
    }

    #[test]
    fn what_is_no_utf_16_stays_visible() {
        // A lone high surrogate, and an odd byte at the end.
        assert_eq!(
            transcode(b"a\0\x3d\xd8b\0c", Encoding::Utf16Le),
            [b'a', NO_TEXT, b'b', NO_TEXT]
        );
    }

    #[test]
    fn a_mark_wins_and_zeros_tell() {
        assert_eq!(
            detect(b"\xef\xbb\xbfa", Some(Encoding::Windows1252)),
            (Encoding::Utf8, 3)
        );
        assert_eq!(detect(b"a\0,\0b\0\n\0", None), (Encoding::Utf16Le, 0));
        assert_eq!(detect(b"\0a\0,\0b\0\n", None), (Encoding::Utf16Be, 0));
        assert_eq!(detect(b"a,b\n", None), (Encoding::Utf8, 0));
    }
}
