//! Portions: the vehicles that a question is asked of at a time, where its answer counts vehicles each once. While it counts, the
//! engine holds every vehicle it has met, so that memory grows with the fleet unless the fleet is cut.

use super::filter::{Parameters, once};
use crate::history::History;
use crate::history::slice::Slice;
use crate::query::literal::Value;

/// Vehicles of one portion: so many are counted in some hundred MiB, and fewer fleets are asked more than once.
const VEHICLES: u64 = 500_000;

/// Vehicles from one number up to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Portion {
    /// The first number; open for the first portion.
    from: Option<i64>,
    /// The one after the last; open for the last portion.
    below: Option<i64>,
}

impl Portion {
    /// What keeps a statement to these vehicles.
    pub fn parameters(self) -> Parameters {
        vec![
            once("from_vehicle", self.from.map(Value::Int)),
            once("below_vehicle", self.below.map(Value::Int)),
        ]
    }
}

/// All vehicles of a history, cut into portions; there is always one.
pub(super) fn portions(history: &History) -> Vec<Portion> {
    cut(history.account.spans.vehicles, VEHICLES)
}

fn cut(vehicles: u64, size: u64) -> Vec<Portion> {
    let slices = Slice::of_vehicles(vehicles, size);
    let last = slices.len() - 1;
    let portion = |(i, slice): (usize, &Slice)| Portion {
        from: (i > 0).then_some(slice.first),
        // Numbers may go beyond the vehicles counted: a vehicle that only superseded records name has one too.
        below: (i < last).then_some(slice.end),
    };
    slices.iter().enumerate().map(portion).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn portions_follow_each_other_and_leave_nothing_out() {
        assert_eq!(cut(0, 50), [Portion::default()]);
        assert_eq!(cut(50, 50), [Portion::default()]);
        let three = cut(101, 50);
        assert_eq!(three.len(), 3);
        assert_eq!((three[0].from, three[2].below), (None, None));
        for pair in three.windows(2) {
            assert!(pair[0].below.is_some());
            assert_eq!(pair[0].below, pair[1].from);
        }
    }
}
