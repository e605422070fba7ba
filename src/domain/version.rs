//! Which version of which record a row is, as one number.
//!
//! The upper bits of a digest are the record's key, the lower its content: equal digests are the same record in the same version,
//! and all versions of a record lie next to each other. So history finds the records of which there are several versions by
//! numbers alone, without sorting every row of the store by its text.

use xxhash_rust::xxh3::xxh3_64;

use super::table::Table;

/// The digests of a key are the numbers from a multiple of this up to the next.
pub const CONTENTS: i64 = 1 << CONTENT_BITS;

/// Bits of a digest that are of the content. Of 63, so that of a hundred million vehicles' rows, some 2.5e9, fewer than a tenth share the
/// bits of their key with another record by chance: those have to be told apart by their texts.
const CONTENT_BITS: u32 = 28;

/// The hash of what stays the same from version to version of a row: source, table and key of the record. XXH3 with 64 bits over
/// the texts, each after its length.
pub fn key_hash(source: &str, table: Table, record: &str) -> u64 {
    let mut form = Vec::with_capacity(source.len() + record.len() + 40);
    for part in [source, table.name(), record] {
        form.extend_from_slice(&(part.len() as u64).to_le_bytes());
        form.extend_from_slice(part.as_bytes());
    }
    xxh3_64(&form)
}

/// The digest of a row, never negative: 35 bits of the hash of its key above 28 bits of the hash of all of it.
///
/// Two rows of different records share a digest by chance once in 2^63 pairs; a new version of a record is taken for an old one
/// once in 2^28 edits. Records that share the upper bits by chance are told apart by their texts.
pub fn digest(key: u64, content: u64) -> i64 {
    let upper = (key >> (CONTENT_BITS + 1)) << CONTENT_BITS;
    let lower = content & ((1 << CONTENT_BITS) - 1);
    i64::try_from(upper | lower).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_of_a_record_lie_together_and_others_elsewhere() {
        let key = |record| key_hash("north", Table::Visits, record);
        let [a, b] = [1, u64::MAX].map(|content| digest(key("17"), content));
        assert_ne!(a, b);
        assert_eq!(a / CONTENTS, b / CONTENTS);
        assert!(a >= 0 && b >= 0 && digest(u64::MAX, u64::MAX) == i64::MAX);
        assert_ne!(digest(key("18"), 1) / CONTENTS, a / CONTENTS);
        // The parts of a key do not run into each other.
        assert_ne!(
            key_hash("a", Table::Cases, "bc"),
            key_hash("ab", Table::Cases, "c")
        );
        assert_ne!(
            key_hash("a", Table::Cases, "b"),
            key_hash("a", Table::Tests, "b")
        );
    }
}
