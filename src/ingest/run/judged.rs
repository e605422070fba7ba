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
const NEW: u8 = 4;
/// A row of it has the key of one that is there, and other content.
const EDIT: u8 = 8;
const BITS: u8 = 15;

/// Records of a file: the lowest bit of a row's number tells whether it is the only one of its record.
const MOST: u32 = 1 << 31;

fn is_single(number: u32) -> bool {
    number % 2 == 1
}

/// The records of a file by their number.
#[derive(Default)]
pub(super) struct Judged {
    /// Two records a byte.
    bytes: Vec<u8>,
    records: u32,
}

impl Judged {
    /// Takes up the next record, which has so many rows; gives the number that its rows are to bear.
    ///
    /// Records are judged in no order, and each of them looked at costs a miss of the cache: a record with a single row, as nearly all
    /// have, is new until the contrary is found, which most files seldom do.
    pub(super) fn add(&mut self, count: Count, rows: usize) -> Result<u32> {
        let record = self.records;
        if record >= MOST {
            return Err(
                Problem::data(format!("a file has more than {MOST} records"))
                    .remedy("split it into several files"),
            );
        }
        self.records += 1;
        if record.is_multiple_of(2) {
            self.bytes.push(0);
        }
        let count = match count {
            Count::Kept => KEPT,
            Count::Flagged => FLAGGED,
            Count::Quarantined => QUARANTINED,
        };
        let single = rows == 1;
        self.set(record, if single { count | NEW } else { count });
        Ok(record << 1 | u32::from(single))
    }

    /// Notes that the row of that number is not there yet, and whether it is another version of one that is.
    pub(super) fn is_new(&mut self, number: u32, is_edit: bool) {
        if !is_single(number) {
            self.set(number >> 1, NEW);
        }
        if is_edit {
            self.set(number >> 1, EDIT);
        }
    }

    /// Notes that the row of that number is there already.
    pub(super) fn is_old(&mut self, number: u32) {
        if is_single(number) {
            let record = number >> 1;
            if let Some(byte) = self.bytes.get_mut(record as usize / 2) {
                *byte &= !(NEW << (record % 2 * 4));
            }
        }
    }

    fn set(&mut self, record: u32, bits: u8) {
        if let Some(byte) = self.bytes.get_mut(record as usize / 2) {
            *byte |= bits << (record % 2 * 4);
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
