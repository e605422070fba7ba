//! Slices: the parts of a table that are written one after the other, so that what a statement sorts and joins stays in memory
//! however many vehicles there are.

use super::table::Sliced;
use crate::domain::version::CONTENTS;

/// Vehicles of one slice. Some 20 sightings a vehicle make a million rows.
pub const VEHICLES_A_SLICE: u64 = 50_000;

/// Stored rows of one slice of digests, of which only the number of the key is held.
const ROWS_A_SLICE: u64 = 4_000_000;

/// Vehicles or digests from one number up to another.
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
            Sliced::ByDigest => Slice {
                first: 0,
                end: i64::MAX,
            },
            Sliced::Not | Sliced::ByVehicle => Slice {
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
        assert_eq!(Slice::of_digests(73_000_000).len(), 19);
        let vehicles = Slice::of_vehicles(101, 50);
        assert_eq!(vehicles.len(), 3);
        assert_eq!((vehicles[2].first, vehicles[2].end), (101, 151));
        assert_eq!(Slice::of_vehicles(0, 50).len(), 1);
    }
}
