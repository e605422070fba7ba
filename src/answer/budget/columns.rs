//! Columns that several tables of a budget have.

use super::types::Expected;
use crate::answer::columns::Columns;
use crate::answer::sheet::{Cell, Show};

/// A number, or nothing.
pub fn number(value: Option<f64>) -> Cell {
    value.map_or(Cell::Empty, Cell::Number)
}

/// What is expected, whose ends may be whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// A count: the ends of its ranges are whole.
    Count,
    /// Money or days.
    Amount,
}

/// Expected value and the ranges of these levels.
pub fn expected<'a, R>(
    columns: &mut Columns<'a, R>,
    (id, title): (&str, &str),
    of: Of,
    levels: &[f64],
    take: impl Fn(&R) -> Option<&Expected> + Copy + 'a,
) {
    columns.add(id, title, Show::Quantity, move |r| {
        number(take(r).map(|e| e.expected))
    });
    ranges(columns, id, levels, move |r| Some((of, take(r)?)));
}

/// The ranges of these levels.
pub fn ranges<'a, R>(
    columns: &mut Columns<'a, R>,
    id: &str,
    levels: &[f64],
    take: impl Fn(&R) -> Option<(Of, &Expected)> + Copy + 'a,
) {
    for &level in levels {
        let end = move |r: &R, upper: bool| {
            let found = take(r).and_then(|(of, e)| {
                let range = e.ranges.iter().find(|range| range.level == level)?;
                Some((of, if upper { range.upper } else { range.lower }))
            });
            match found {
                None => Cell::Empty,
                // Counts stay far below 2^53.
                Some((Of::Count, end)) => Cell::Whole(end as i64),
                Some((Of::Amount, end)) => Cell::Number(end),
            }
        };
        let percent = format!("{:.0}", 100.0 * level);
        columns.add(
            format!("{id}_from_{percent}"),
            format!("{percent} % from"),
            Show::Quantity,
            move |r| end(r, false),
        );
        columns.add(
            format!("{id}_to_{percent}"),
            "to",
            Show::Quantity,
            move |r| end(r, true),
        );
    }
}
