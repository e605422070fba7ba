//! More rows than memory should hold, sorted by key: a distribution sort on disk (Knuth, The Art of Computer Programming 3, 5.2.5).
//!
//! Keys are hashes and so spread evenly. Their first byte says which of 256 parts a row belongs to; parts go to one file in chunks
//! and come back one after another, each small enough to be sorted in memory. Every row is written once and read once,
//! however many there are, and a few thousand never leave memory.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::PathBuf;
use std::sync::mpsc::sync_channel;
use std::thread;

use crate::domain::problem::{AtFile, Problem, Result};

/// Parts, one for each first byte of a key.
const PARTS: usize = 256;
const ROW_BYTES: usize = 16;
/// Bits of a row for the content, and for the number below it.
const CONTENT_BITS: u32 = 40;
const NUMBER_BITS: u32 = 32;
/// Parts that are sorted before they are asked for.
const AHEAD: usize = 1;

/// A row within its part. From the highest bits down: the key but its first byte (56), the end of the digest (40), a number of the
/// holder's own (32).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Row(u128);

impl Row {
    fn new(key: u64, digest: u64, number: u32) -> Self {
        let content = u128::from(digest % (1 << CONTENT_BITS));
        // The key's first byte falls off at the upper end.
        let key = u128::from(key) << (CONTENT_BITS + NUMBER_BITS);
        Self(key | content << NUMBER_BITS | u128::from(number))
    }

    fn key(self, part: u8) -> u64 {
        u64::from(part) << 56 | (self.0 >> (CONTENT_BITS + NUMBER_BITS)) as u64
    }

    /// What is kept of the digest.
    pub fn content(self) -> u64 {
        (self.0 >> NUMBER_BITS) as u64 % (1 << CONTENT_BITS)
    }

    /// The number it was given.
    pub fn number(self) -> u32 {
        self.0 as u32
    }
}

/// One part: its chunks on disk, in their order, and the rows behind them.
#[derive(Default)]
struct Part {
    chunks: Vec<u32>,
    rows: Vec<Row>,
}

/// Takes rows in any order and gives them back by key.
pub struct Sorter {
    path: PathBuf,
    /// From the first chunk on.
    file: Option<File>,
    /// Rows of a chunk.
    chunk: usize,
    chunks: u32,
    parts: Vec<Part>,
    bytes: Vec<u8>,
}

impl Sorter {
    /// Holds about `held` rows in memory; the others wait in a file at `path`, which is the caller's to remove.
    pub(super) fn new(path: PathBuf, held: usize) -> Self {
        Self {
            path,
            file: None,
            chunk: (held / PARTS).max(1),
            chunks: 0,
            parts: std::iter::repeat_with(Part::default).take(PARTS).collect(),
            bytes: Vec::new(),
        }
    }

    /// Takes a row.
    pub fn add(&mut self, key: u64, digest: u64, number: u32) -> Result<()> {
        let Some(part) = self.parts.get_mut((key >> 56) as usize) else {
            return Ok(());
        };
        part.rows.push(Row::new(key, digest, number));
        if part.rows.len() < self.chunk {
            return Ok(());
        }
        self.bytes.clear();
        for row in part.rows.drain(..) {
            self.bytes.extend_from_slice(&row.0.to_le_bytes());
        }
        part.chunks.push(self.chunks);
        self.chunks += 1;
        let file = match &mut self.file {
            Some(file) => file,
            none => {
                let mut options = File::options();
                let options = options.read(true).write(true).create(true).truncate(true);
                none.insert(options.open(&self.path).at_file("write", &self.path)?)
            }
        };
        file.write_all(&self.bytes).at_file("write", &self.path)
    }

    /// Calls `each` with the rows of every key, keys in their order, the rows of one by content and number.
    pub(super) fn sorted(
        mut self,
        mut each: impl FnMut(u64, &mut [Row]) -> Result<()>,
    ) -> Result<()> {
        thread::scope(|scope| {
            let (to, from) = sync_channel(AHEAD);
            let sort = move || {
                for part in std::mem::take(&mut self.parts) {
                    // Nobody wants more once something went wrong.
                    if to.send(self.read(part)).is_err() {
                        return;
                    }
                }
            };
            let sorting = thread::Builder::new().spawn_scoped(scope, sort);
            let sorting = sorting.map_err(|e| {
                Problem::data(format!("no thread could be started to sort hashes: {e}"))
            })?;
            for (part, rows) in (0..=u8::MAX).zip(from) {
                for same_key in rows?.chunk_by_mut(|a, b| a.key(0) == b.key(0)) {
                    if let Some(first) = same_key.first() {
                        each(first.key(part), same_key)?;
                    }
                }
            }
            sorting
                .join()
                .map_err(|payload| Problem::stopped_inside("sorting hashes", payload.as_ref()))
        })
    }

    /// All rows of a part, sorted.
    fn read(&mut self, part: Part) -> Result<Vec<Row>> {
        let mut rows = Vec::with_capacity(part.chunks.len() * self.chunk + part.rows.len());
        if let Some(file) = &mut self.file {
            self.bytes.resize(self.chunk * ROW_BYTES, 0);
            for chunk in part.chunks {
                let at = u64::from(chunk) * self.bytes.len() as u64;
                file.seek(SeekFrom::Start(at))
                    .and_then(|_| file.read_exact(&mut self.bytes))
                    .at_file("read", &self.path)?;
                let read = self.bytes.as_chunks::<ROW_BYTES>().0.iter();
                rows.extend(read.map(|bytes| Row(u128::from_le_bytes(*bytes))));
            }
        }
        rows.extend(part.rows);
        rows.sort_unstable();
        Ok(rows)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_come_back_whole_and_sorted_whether_held_or_on_disk() {
        // Weyl's sequence with the golden ratio: spreads over all first bytes.
        let key = |i: u64| (i % 700).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let rows: Vec<(u64, u64, u32)> = (0..2000)
            .map(|i| (key(i), u64::MAX - i * 3 % 11, i as u32 ^ 0xf000_0000))
            .collect();
        let mut expected: Vec<_> = rows
            .iter()
            .map(|(key, digest, number)| (*key, digest % (1 << 40), *number))
            .collect();
        expected.sort_unstable();
        for held in [0, 256, 800, 1 << 20] {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("rows");
            let mut sorter = Sorter::new(path.clone(), held);
            for (key, digest, number) in &rows {
                sorter.add(*key, *digest, *number).unwrap();
            }
            assert_eq!(path.exists(), held < 1 << 20, "{held} held");
            let mut found = Vec::new();
            let mut keys = 0;
            let each = |key, rows: &mut [Row]| {
                keys += 1;
                found.extend(rows.iter().map(|r| (key, r.content(), r.number())));
                Ok(())
            };
            sorter.sorted(each).unwrap();
            assert_eq!(found, expected, "{held} held");
            assert_eq!(keys, 700);
        }
    }

    #[test]
    fn what_goes_wrong_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("rows");
        let mut sorter = Sorter::new(path.clone(), 0);
        for key in 0..100 {
            sorter.add(key << 57, key, 0).unwrap();
        }
        File::create(&path).unwrap();
        let problem = sorter.sorted(|_, _| Ok(())).unwrap_err().to_string();
        assert!(problem.contains("rows"), "{problem}");
        let mut sorter = Sorter::new(folder.path().join("none/rows"), 0);
        assert!(sorter.add(1, 1, 1).is_err());
        let mut sorter = Sorter::new(path, 1000);
        sorter.add(1, 1, 1).unwrap();
        let stop = |_, _: &mut [Row]| Err(Problem::data("enough"));
        let problem = sorter.sorted(stop).unwrap_err().to_string();
        assert!(problem.contains("enough"), "{problem}");
    }
}
