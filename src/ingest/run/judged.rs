//! What is found out about every record of a file, in four bits each: records are judged when all of them are read.

use crate::domain::problem::{Problem, Result};

use super::known::Repeats;
use super::portion::Count;

/// Bits of a record. How it counts takes the lower two.
const KEPT: u8 = 0;
const FLAGGED: u8 = 1;
const QUARANTINED: u8 = 2;
const COUNT: u8 = 3;
/// A row of it is not there yet.
pub(super) const NEW: u8 = 4;
/// A row of it has the key of one that is there, and other content.
pub(super) const EDIT: u8 = 8;
const BITS: u8 = 15;

/// The records of a file by their number.
#[derive(Default)]
pub(super) struct Judged {
    /// Two records a byte.
    bytes: Vec<u8>,
    records: u32,
}

impl Judged {
    /// Takes up the next record; gives its number.
    pub(super) fn add(&mut self, count: Count) -> Result<u32> {
        let number = self.records;
        self.records = number.checked_add(1).ok_or_else(|| {
            Problem::data(format!("a file has more than {} records", u32::MAX))
                .remedy("split it into several files")
        })?;
        if number.is_multiple_of(2) {
            self.bytes.push(0);
        }
        self.mark(
            number,
            match count {
                Count::Kept => KEPT,
                Count::Flagged => FLAGGED,
                Count::Quarantined => QUARANTINED,
            },
        );
        Ok(number)
    }

    /// Adds bits to a record.
    pub(super) fn mark(&mut self, number: u32, bits: u8) {
        if let Some(byte) = self.bytes.get_mut(number as usize / 2) {
            *byte |= bits << (number % 2 * 4);
        }
    }

    /// Which of them are not new.
    pub(super) fn repeats(&self) -> Repeats {
        let mut repeats = Repeats::default();
        let both = self.bytes.iter().flat_map(|b| [b & BITS, b >> 4]);
        for bits in both.take(self.records as usize) {
            let count = match bits & COUNT {
                KEPT => &mut repeats.kept,
                FLAGGED => &mut repeats.flagged,
                _ => continue,
            };
            if bits & EDIT != 0 {
                repeats.edited += 1;
            } else if bits & NEW == 0 {
                *count += 1;
            }
        }
        repeats
    }
}
