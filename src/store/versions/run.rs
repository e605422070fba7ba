//! One sorted file of entries: written from front to back, walked through in the order of keys.
//!
//! The file is the entries, the first key of every block, and a footer that names the batches. Blocks are found by those keys,
//! which are held in memory (8 bytes for 256 rows).

use std::fs::File;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use xxhash_rust::xxh3::{Xxh3Default, xxh3_64};

use super::entry::{ENTRY_BYTES, Entry};
use crate::domain::problem::{AtFile, Problem, Result};

/// Entries of a block.
const BLOCK: usize = 256;
/// Blocks read at once at most, where one after the other is asked for.
const MOST_BLOCKS: usize = 64;
/// Bytes gathered before they are written.
const WRITTEN_AT_ONCE: usize = 64 * 1024;
/// The end of a run's file.
const MAGIC: [u8; 8] = *b"versns03";
/// Bytes behind the footer: its length and the magic.
const TAIL: usize = 12;

#[derive(Debug, Clone, Serialize, Deserialize)]
struct Footer {
    /// Batches by their tags.
    batches: Vec<String>,
    entries: u64,
    /// XXH3 of the bytes of the entries.
    hash: String,
    /// XXH3 of the bytes of the first keys, which say where to look: looked at whenever the file is opened.
    firsts_hash: String,
}

/// A run on disk.
#[derive(Debug)]
pub struct Run {
    path: PathBuf,
    file: File,
    /// The first key of every block.
    firsts: Vec<u64>,
    footer: Footer,
    /// By tag: whether the batch counts.
    counts: Vec<bool>,
}

impl Run {
    /// Opens a run; a damaged one is a problem, and can be made again.
    pub fn open(path: &Path) -> Result<Self> {
        let mut file = File::open(path).at_file("read", path)?;
        let (footer, firsts) = read_end(&mut file).ok_or_else(|| {
            Problem::data("these hashes of known versions are damaged")
                .file(path)
                .remedy("delete the file; the next ingest makes it again from the batches")
        })?;
        let counts = vec![true; footer.batches.len()];
        Ok(Self {
            path: path.to_path_buf(),
            file,
            firsts,
            footer,
            counts,
        })
    }

    /// Its file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The names of its batches, by tag.
    pub fn batches(&self) -> &[String] {
        &self.footer.batches
    }

    /// Entries in it.
    pub fn len(&self) -> u64 {
        self.footer.entries
    }

    /// Whether it has no entry.
    pub fn is_empty(&self) -> bool {
        self.footer.entries == 0
    }

    /// Which batches count from now on; rows of others are passed over.
    pub fn set_counting(&mut self, counts: impl Fn(&str) -> bool) {
        self.counts = self.footer.batches.iter().map(|b| counts(b)).collect();
    }

    pub(super) fn counts(&self, tag: u32) -> bool {
        self.counts.get(tag as usize).copied().unwrap_or(false)
    }

    pub(super) fn moved(mut self, path: PathBuf) -> Self {
        self.path = path;
        self
    }

    /// Begins a walk.
    pub fn walk(&self) -> Walk<'_> {
        Walk {
            run: self,
            next_block: 0,
            bytes: Vec::new(),
            at: 0,
            blocks_at_once: 1,
        }
    }

    /// Whether its bytes are what was written.
    pub fn is_sound(&self) -> Result<bool> {
        let mut hash = Xxh3Default::new();
        let mut walk = self.walk();
        while let Some(entry) = walk.next_entry()? {
            hash.update(&entry.to_bytes());
        }
        Ok(hex(hash.digest()) == self.footer.hash)
    }
}

fn hex(hash: u64) -> String {
    format!("{hash:016x}")
}

fn read_end(file: &mut File) -> Option<(Footer, Vec<u64>)> {
    let length = file.metadata().ok()?.len();
    let mut tail = [0; TAIL];
    file.seek(SeekFrom::Start(length.checked_sub(TAIL as u64)?))
        .ok()?;
    file.read_exact(&mut tail).ok()?;
    let (size, magic) = tail.split_first_chunk::<4>()?;
    if magic != MAGIC {
        return None;
    }
    let size = u64::from(u32::from_le_bytes(*size));
    let footer_at = length.checked_sub(TAIL as u64 + size)?;
    file.seek(SeekFrom::Start(footer_at)).ok()?;
    let mut text = vec![0; usize::try_from(size).ok()?];
    file.read_exact(&mut text).ok()?;
    let footer: Footer = serde_json::from_slice(&text).ok()?;
    let firsts_at = footer.entries.checked_mul(ENTRY_BYTES as u64)?;
    let blocks = footer.entries.div_ceil(BLOCK as u64);
    if footer_at.checked_sub(firsts_at)? != blocks * 8 {
        return None;
    }
    file.seek(SeekFrom::Start(firsts_at)).ok()?;
    let mut bytes = vec![0; usize::try_from(blocks * 8).ok()?];
    file.read_exact(&mut bytes).ok()?;
    if hex(xxh3_64(&bytes)) != footer.firsts_hash {
        return None;
    }
    let firsts = bytes.as_chunks::<8>().0.iter();
    Some((footer, firsts.map(|b| u64::from_le_bytes(*b)).collect()))
}

/// A place in a run that only moves forward.
pub struct Walk<'a> {
    run: &'a Run,
    /// The block behind those in `bytes`.
    next_block: usize,
    bytes: Vec<u8>,
    /// Entry of `bytes`.
    at: usize,
    blocks_at_once: usize,
}

impl Walk<'_> {
    /// Calls `found` with every entry of `key` whose batch counts. Keys must be asked for in their order.
    pub fn entries(&mut self, key: u64, mut found: impl FnMut(Entry)) -> Result<()> {
        self.skip_to(key);
        while let Some(entry) = self.peek()? {
            if entry.key() > key {
                break;
            }
            if entry.key() == key && self.run.counts(entry.tag()) {
                found(entry);
            }
            self.at += 1;
        }
        Ok(())
    }

    /// The next entry, whatever its batch.
    pub fn next_entry(&mut self) -> Result<Option<Entry>> {
        let entry = self.peek()?;
        self.at += 1;
        Ok(entry)
    }

    /// Passes over blocks that end before `key`.
    fn skip_to(&mut self, key: u64) {
        let firsts = self.run.firsts.get(self.next_block..).unwrap_or(&[]);
        if firsts.first().is_none_or(|first| *first >= key) {
            return;
        }
        // The last block that begins before the key may hold it.
        let before = firsts.partition_point(|first| *first < key) - 1;
        if before > 0 {
            self.blocks_at_once = 1;
        }
        self.next_block += before;
        self.bytes.clear();
        self.at = 0;
    }

    fn peek(&mut self) -> Result<Option<Entry>> {
        loop {
            if let Some(bytes) = self.bytes.as_chunks::<ENTRY_BYTES>().0.get(self.at) {
                return Ok(Some(Entry::from_bytes(*bytes)));
            }
            if self.next_block >= self.run.firsts.len() {
                return Ok(None);
            }
            self.read_blocks()?;
        }
    }

    fn read_blocks(&mut self) -> Result<()> {
        let begin = (self.next_block * BLOCK) as u64;
        let wanted = (self.blocks_at_once * BLOCK) as u64;
        let entries = wanted.min(self.run.len().saturating_sub(begin));
        self.bytes.resize(entries as usize * ENTRY_BYTES, 0);
        let mut file = &self.run.file;
        file.seek(SeekFrom::Start(begin * ENTRY_BYTES as u64))
            .and_then(|_| file.read_exact(&mut self.bytes))
            .at_file("read", &self.run.path)?;
        self.at = 0;
        self.next_block += self.blocks_at_once;
        self.blocks_at_once = (self.blocks_at_once * 2).min(MOST_BLOCKS);
        Ok(())
    }
}

/// Writes a run.
pub struct Writer {
    path: PathBuf,
    file: File,
    waiting: Vec<u8>,
    firsts: Vec<u8>,
    entries: u64,
    hash: Xxh3Default,
    last: Option<Entry>,
}

impl Writer {
    pub(super) fn create(path: &Path) -> Result<Self> {
        Ok(Self {
            path: path.to_path_buf(),
            file: File::create(path).at_file("write", path)?,
            waiting: Vec::with_capacity(WRITTEN_AT_ONCE),
            firsts: Vec::new(),
            entries: 0,
            hash: Xxh3Default::new(),
            last: None,
        })
    }

    /// Adds an entry, which must not be smaller than the one before; the same once more is left out.
    pub fn add(&mut self, entry: Entry) -> Result<()> {
        if self.last == Some(entry) {
            return Ok(());
        }
        self.last = Some(entry);
        if self.entries.is_multiple_of(BLOCK as u64) {
            self.firsts.extend_from_slice(&entry.key().to_le_bytes());
        }
        self.entries += 1;
        self.waiting.extend_from_slice(&entry.to_bytes());
        if self.waiting.len() >= WRITTEN_AT_ONCE {
            self.flush()?;
        }
        Ok(())
    }

    fn flush(&mut self) -> Result<()> {
        self.hash.update(&self.waiting);
        self.file
            .write_all(&self.waiting)
            .at_file("write", &self.path)?;
        self.waiting.clear();
        Ok(())
    }

    /// Completes the file of these batches.
    pub(super) fn finish(mut self, batches: &[String]) -> Result<Run> {
        self.flush()?;
        let footer = Footer {
            batches: batches.to_vec(),
            entries: self.entries,
            hash: hex(self.hash.digest()),
            firsts_hash: hex(xxh3_64(&self.firsts)),
        };
        let text = serde_json::to_vec(&footer)
            .map_err(|e| Problem::data(format!("could not describe known versions: {e}")))?;
        let size = u32::try_from(text.len()).map_err(|_| {
            Problem::data("too many batches in one run of known versions")
                .remedy("compact the store")
        })?;
        let parts: [&[u8]; 4] = [&self.firsts, &text, &size.to_le_bytes(), &MAGIC];
        self.file
            .write_all(&parts.concat())
            .at_file("write", &self.path)?;
        Run::open(&self.path)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn write(path: &Path, entries: &[Entry]) -> Run {
        let mut writer = Writer::create(path).unwrap();
        for entry in entries {
            writer.add(*entry).unwrap();
        }
        writer.finish(&["one".into(), "two".into()]).unwrap()
    }

    #[test]
    fn every_key_is_found_and_no_other_across_blocks_and_jumps() {
        let folder = tempfile::tempdir().unwrap();
        // Keys 0, 3, 6, ...; the key 300 fills more than a block by itself.
        let mut entries: Vec<Entry> = (0..5000)
            .map(|k| Entry::new(3 * k, k << 24, (k % 2) as u32))
            .collect();
        entries.extend((0..600).map(|c: u64| Entry::new(300, c << 30, 0)));
        entries.sort();
        let mut run = write(&folder.path().join("r"), &entries);
        assert!(run.is_sound().unwrap());
        for step in [1, 2, 7, 1000, 14_000] {
            for one_counts in [true, false] {
                run.set_counting(|name| one_counts || name == "two");
                let mut walk = run.walk();
                for key in (0..15_010).step_by(step) {
                    let mut found = Vec::new();
                    walk.entries(key, |e| found.push(e)).unwrap();
                    let own = entries
                        .iter()
                        .filter(|e| e.key() == key && (one_counts || e.tag() == 1));
                    assert!(own.eq(&found), "key {key} in steps of {step}");
                }
            }
        }
    }

    #[test]
    fn damage_is_noticed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("r");
        write(
            &path,
            &(0..1000).map(|k| Entry::new(k, k, 0)).collect::<Vec<_>>(),
        );
        let bytes = std::fs::read(&path).unwrap();
        for cut in [0, 5, 16_000, bytes.len() - 1] {
            std::fs::write(&path, &bytes[..cut]).unwrap();
            assert!(Run::open(&path).is_err(), "cut to {cut}");
        }
        let mut other = bytes.clone();
        other[16_000 + 8] ^= 1;
        std::fs::write(&path, &other).unwrap();
        assert!(Run::open(&path).is_err(), "a first key");
        let mut other = bytes.clone();
        other[8000] ^= 1;
        std::fs::write(&path, &other).unwrap();
        assert!(!Run::open(&path).unwrap().is_sound().unwrap());
        std::fs::write(&path, &bytes).unwrap();
        assert!(Run::open(&path).unwrap().is_sound().unwrap());
    }
}
