//! Slices: the parts of a table that are written one after the other, so that what a statement sorts and joins stays in memory
//! however many vehicles there are.

use super::table::Sliced;
use crate::domain::version::CONTENTS;

/// Vehicles of one slice. Some 20 sightings a vehicle make a million rows.
pub const VEHICLES_A_SLICE: u64 = 50_000;

/// How many slices of vehicles make one of many vehicles.
const SLICES_TOGETHER: u64 = 10;

/// Stored rows of one slice of digests, of which only the number of the key is held.
const ROWS_A_SLICE: u64 = 6_000_000;

/// Stored rows of one slice of rows: they are held while each finds the number of its vehicle, and put in order.
const LINES_A_SLICE: u64 = 2_000_000;

/// Stored rows of one slice of many rows, of which only a column or two are held.
const MANY_LINES_A_SLICE: u64 = 8_000_000;

/// A row stands at its batch times this plus its line.
const LINES_A_BATCH: i64 = 1 << 32;

/// Visits, cases and findings of one batch.
#[derive(Debug, Clone, Copy)]
pub struct BatchLines {
    /// Number of the batch.
    pub batch: i64,
    /// Rows in it.
    pub rows: u64,
    /// Line of the last of them.
    pub last_line: i64,
}

/// Vehicles, digests or places of rows from one number up to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Slice {
    /// The first number.
    pub first: i64,
    /// The one after the last.
    pub end: i64,
}

impl Slice {
    /// The only slice of a table that is not cut.
    pub fn all(sliced: Sliced) -> Slice {
        match sliced {
            Sliced::ByDigest | Sliced::ByRow | Sliced::ByManyRows => Slice {
                first: 0,
                end: i64::MAX,
            },
            Sliced::Not | Sliced::ByVehicle | Sliced::ByManyVehicles => Slice {
                first: i64::MIN,
                end: i64::MAX,
            },
        }
    }

    /// Cuts vehicles 1, 2, ... into slices of `size`; there is always one.
    pub fn of_vehicles(vehicles: u64, size: u64) -> Vec<Slice> {
        let number = |n: u64| i64::try_from(n).unwrap_or(i64::MAX);
        let size = size.max(1);
        (0..vehicles.div_ceil(size).max(1))
            .map(|i| Slice {
                first: number(i * size + 1),
                end: number((i + 1) * size + 1),
            })
            .collect()
    }

    /// Cuts vehicles 1, 2, ... into slices for statements that take many at a time, where others take `size`.
    pub fn of_many_vehicles(vehicles: u64, size: u64) -> Vec<Slice> {
        Self::of_vehicles(vehicles, size.saturating_mul(SLICES_TOGETHER))
    }

    /// Cuts the rows of batches, which are in order, into slices for statements that put them in order; there is always one.
    pub fn of_rows(batches: &[BatchLines]) -> Vec<Slice> {
        Self::of_lines(batches, LINES_A_SLICE)
    }

    /// The same for statements that take many rows at a time.
    pub fn of_many_rows(batches: &[BatchLines]) -> Vec<Slice> {
        Self::of_lines(batches, MANY_LINES_A_SLICE)
    }

    /// Slices of about so many rows.
    fn of_lines(batches: &[BatchLines], size: u64) -> Vec<Slice> {
        let mut cuts = Vec::new();
        let mut rows = 0;
        for batch in batches {
            let begin = batch.batch.saturating_mul(LINES_A_BATCH);
            if rows > 0 && rows + batch.rows > size {
                cuts.push(begin);
                rows = 0;
            }
            let parts = batch.rows.div_ceil(size).max(1);
            for part in 1..parts {
                let line = i128::from(batch.last_line) * i128::from(part) / i128::from(parts);
                cuts.push(begin.saturating_add(i64::try_from(line).unwrap_or(i64::MAX)));
            }
            rows += batch.rows / parts;
        }
        let firsts = [0].into_iter().chain(cuts.iter().copied());
        let ends = cuts.iter().copied().chain([i64::MAX]);
        let slices = firsts.zip(ends);
        slices.map(|(first, end)| Slice { first, end }).collect()
    }

    /// Batch and line of a place in a slice of rows.
    pub fn batch_and_line(place: i64) -> (i64, i64) {
        (place / LINES_A_BATCH, place % LINES_A_BATCH)
    }

    /// Cuts the digests of so many rows into slices, none through a key; there is always one.
    pub fn of_digests(rows: u64) -> Vec<Slice> {
        let parts = i64::try_from(rows.div_ceil(ROWS_A_SLICE).max(1)).unwrap_or(1);
        let keys = i64::MAX / CONTENTS + 1;
        let cut = |i: i64| {
            let key = i128::from(keys) * i128::from(i) / i128::from(parts);
            // The very last digest stands for no row: its end is open.
            i64::try_from(key * i128::from(CONTENTS)).unwrap_or(i64::MAX)
        };
        (0..parts)
            .map(|i| Slice {
                first: cut(i),
                end: cut(i + 1),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slices_follow_each_other_and_leave_nothing_out() {
        for rows in [0, 1, ROWS_A_SLICE, ROWS_A_SLICE + 1, 73_000_000] {
            let slices = Slice::of_digests(rows);
            assert_eq!(slices.first().unwrap().first, 0);
            assert_eq!(slices.last().unwrap().end, i64::MAX);
            for pair in slices.windows(2) {
                assert_eq!(pair[0].end, pair[1].first);
                assert_eq!(pair[0].end % CONTENTS, 0);
            }
        }
        assert_eq!(Slice::of_digests(73_000_000).len(), 13);
        let batch = |batch, rows| BatchLines {
            batch,
            rows,
            last_line: 2 * rows as i64,
        };
        let whole = Slice::all(Sliced::ByRow);
        assert_eq!(Slice::of_rows(&[]), [whole]);
        assert_eq!(Slice::of_rows(&[batch(1, 5), batch(2, 5)]), [whole]);
        let large = LINES_A_SLICE * 2;
        let rows = Slice::of_rows(&[batch(1, 5), batch(3, large), batch(4, 5), batch(7, large)]);
        let begins: Vec<_> = rows
            .iter()
            .map(|s| Slice::batch_and_line(s.first))
            .collect();
        let middle = large as i64;
        // The few rows of batch 4 no longer go with half of batch 3, which is a slice already.
        let expected = [(0, 0), (3, 0), (3, middle), (4, 0), (7, 0), (7, middle)];
        assert_eq!(begins, expected);
        for pair in rows.windows(2) {
            assert_eq!(pair[0].end, pair[1].first);
        }
        let vehicles = Slice::of_vehicles(101, 50);
        assert_eq!(vehicles.len(), 3);
        assert_eq!((vehicles[2].first, vehicles[2].end), (101, 151));
        assert_eq!(Slice::of_vehicles(0, 50).len(), 1);
    }
}
