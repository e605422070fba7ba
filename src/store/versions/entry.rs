//! One version of one record in 16 bytes that sort by key.

/// Lower bits of the digest that are kept: all 28 of the content, so that an edit is taken for a repeat once in 2^28.
const CONTENT_BITS: u32 = 40;

/// The rest: a number of the holder's own.
const TAG_BITS: u32 = 64 - CONTENT_BITS;

/// From the highest bits down: the hash of the key (64), the end of the digest (40), a tag (24): the batch's number within
/// the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Entry(u128);

/// Bytes of an entry on disk.
pub const ENTRY_BYTES: usize = 16;

impl Entry {
    /// Tags are smaller than this.
    pub const TAGS: u32 = 1 << TAG_BITS;

    /// The version of that content of the record with that key; a tag of [`Self::TAGS`] or more loses its high bits.
    pub fn new(key: u64, digest: u64, tag: u32) -> Self {
        let content = digest % (1 << CONTENT_BITS);
        let tag = u128::from(tag % Self::TAGS);
        Self(u128::from(key) << 64 | u128::from(content) << TAG_BITS | tag)
    }

    /// The hash of source, table and key of the record.
    pub fn key(self) -> u64 {
        (self.0 >> 64) as u64
    }

    /// What is kept of the digest.
    pub fn content(self) -> u64 {
        self.0 as u64 >> TAG_BITS
    }

    /// The tag.
    pub fn tag(self) -> u32 {
        self.0 as u32 % Self::TAGS
    }

    /// The same version with another tag.
    pub fn with_tag(self, tag: u32) -> Self {
        let low = u128::from(Self::TAGS - 1);
        Self(self.0 & !low | u128::from(tag % Self::TAGS))
    }

    pub(super) fn to_bytes(self) -> [u8; ENTRY_BYTES] {
        self.0.to_le_bytes()
    }

    pub(super) fn from_bytes(bytes: [u8; ENTRY_BYTES]) -> Self {
        Self(u128::from_le_bytes(bytes))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_come_back_and_keys_sort_first() {
        let entry = Entry::new(u64::MAX - 1, 0xfedc_ba98_7654_3210, 0xab_cdef);
        assert_eq!(entry.key(), u64::MAX - 1);
        assert_eq!(entry.content(), 0x98_7654_3210);
        assert_eq!(entry.tag(), 0xab_cdef);
        assert_eq!(
            entry.with_tag(7),
            Entry::new(u64::MAX - 1, 0xfedc_ba98_7654_3210, 7)
        );
        assert_eq!(Entry::from_bytes(entry.to_bytes()), entry);
        assert!(Entry::new(1, u64::MAX, 9) < Entry::new(2, 0, 0));
    }
}
