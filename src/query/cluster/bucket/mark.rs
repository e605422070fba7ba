//! What tells a file of one content from every other file and every other content: its number in the file system, its size, and
//! the time it was written.
//!
//! Files of the store never change in their place, but history can be made anew under the same name with its rows in another
//! order, so the name says nothing. A number survives a rename, as history has when it is finished; a file that takes over the number
//! of one that is gone was written later. Reading every byte again for each question would cost more than most questions.

use std::fs::Metadata;
use std::path::Path;
use std::time::UNIX_EPOCH;

use sha2::{Digest, Sha256};

use crate::domain::problem::{AtFile, Result};
use crate::store::durable::hex;

/// Hexadecimal digits of a mark: 128 bits.
const DIGITS: usize = 32;

/// A file's mark, and its size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// The mark as text.
    pub text: String,
    /// Bytes of the file.
    pub size: u64,
}

impl Mark {
    /// Looks at a file, without reading it.
    pub fn of(file: &Path) -> Result<Self> {
        let metadata = std::fs::metadata(file).at_file("measure", file)?;
        let size = metadata.len();
        let time = metadata.modified().at_file("measure", file)?;
        // A time before 1970 is as good a mark as any other.
        let time = match time.duration_since(UNIX_EPOCH) {
            Ok(after) => format!("{}", after.as_nanos()),
            Err(before) => format!("-{}", before.duration().as_nanos()),
        };
        let whole = format!("{} {size} {time}", number(file, &metadata)?);
        let mut text = hex(&Sha256::digest(whole.as_bytes()));
        text.truncate(DIGITS);
        Ok(Self { text, size })
    }
}

/// Whether a text can be a mark.
pub fn is_mark(text: &str) -> bool {
    let digit = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
    text.len() == DIGITS && text.bytes().all(digit)
}

#[cfg(unix)]
fn number(_: &Path, metadata: &Metadata) -> Result<String> {
    Ok(std::os::unix::fs::MetadataExt::ino(metadata).to_string())
}

/// Where files have no number, the path stands for it: a file that was renamed is copied again.
#[cfg(not(unix))]
fn number(file: &Path, _: &Metadata) -> Result<String> {
    let path = std::path::absolute(file).at_file("name in full", file)?;
    Ok(hex(&Sha256::digest(path.as_os_str().as_encoded_bytes())))
}

#[cfg(test)]
mod tests {
    use std::fs::{self, File};
    use std::time::Duration;

    use super::*;

    #[test]
    fn another_file_size_or_time_is_another_mark() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a");
        let at = |seconds| UNIX_EPOCH + Duration::from_secs(seconds);
        let write = |file: &Path, text: &str, seconds| {
            fs::write(file, text).unwrap();
            let opened = File::options().write(true).open(file).unwrap();
            opened.set_modified(at(seconds)).unwrap();
            Mark::of(file).unwrap()
        };
        let mark = write(&file, "abc", 1);
        assert!(is_mark(&mark.text) && mark.size == 3);
        assert_eq!(write(&file, "abc", 1), mark);
        assert_ne!(write(&file, "abc", 2).text, mark.text);
        assert_ne!(write(&file, "abcd", 1).text, mark.text);
        let other = write(&folder.path().join("b"), "abc", 1);
        assert_ne!(other.text, mark.text);
        write(&file, "abc", 1);
        let renamed = folder.path().join("c");
        fs::rename(&file, &renamed).unwrap();
        assert_eq!(Mark::of(&renamed).unwrap() == mark, cfg!(unix));
        let text = Mark::of(&file).unwrap_err().to_string();
        assert!(text.contains("could not measure"), "{text}");
    }

    #[test]
    fn only_marks_look_like_marks() {
        assert!(is_mark(&"0f".repeat(16)));
        for text in ["", "abc", &"0F".repeat(16), &"0g".repeat(16)] {
            assert!(!is_mark(text), "{text}");
        }
    }
}
