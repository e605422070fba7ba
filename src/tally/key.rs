//! The key of a group: one part for each dimension of the tally.

use std::ops::Range;

use serde::Serialize;

use super::dimension::Dimension;
use crate::domain::problem::Result;
use crate::history::rows::Table;

/// One part of a group's key. Unknown values are a part of their own and sort last.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum KeyPart {
    /// A family, cause or site.
    Text(String),
    /// A cylinder or model year.
    Number(i64),
    /// Number of a mileage band, from 0.
    Band(usize),
    /// Not known.
    Unknown,
}

impl KeyPart {
    pub(super) fn text(value: Option<String>) -> Self {
        value.map_or(Self::Unknown, Self::Text)
    }

    pub(super) fn number(value: Option<i64>) -> Self {
        value.map_or(Self::Unknown, Self::Number)
    }

    /// Statements give -1 where the place on the engine's clock is unknown.
    pub(super) fn band(value: Option<i64>) -> Self {
        value
            .and_then(|v| usize::try_from(v).ok())
            .map_or(Self::Unknown, Self::Band)
    }
}

/// The keys of all rows of a result that has a column for each of `dimensions`.
pub(super) fn keys(table: &Table<'_>, dimensions: &[Dimension]) -> Result<Vec<Vec<KeyPart>>> {
    let mut keys = vec![Vec::with_capacity(dimensions.len()); table.len()];
    for dimension in dimensions {
        let name = dimension.column();
        let parts: Vec<KeyPart> = match dimension {
            Dimension::Family | Dimension::Cause | Dimension::Site => {
                table.text(name)?.into_iter().map(KeyPart::text).collect()
            }
            Dimension::Cylinder | Dimension::ModelYear => table
                .whole(name)?
                .into_iter()
                .map(KeyPart::number)
                .collect(),
            Dimension::Band => table.whole(name)?.into_iter().map(KeyPart::band).collect(),
        };
        for (key, part) in keys.iter_mut().zip(parts) {
            key.push(part);
        }
    }
    Ok(keys)
}

/// The keys of a result whose rows are ordered by them, each once, with the rows that have it.
pub(super) fn runs(
    table: &Table<'_>,
    dimensions: &[Dimension],
) -> Result<Vec<(Vec<KeyPart>, Range<usize>)>> {
    let mut starts: Vec<usize> = (!table.is_empty()).then_some(0).into_iter().collect();
    for dimension in dimensions {
        let name = dimension.column();
        match dimension {
            Dimension::Family | Dimension::Cause | Dimension::Site => {
                starts.extend(changes(&table.words(name)?));
            }
            Dimension::Cylinder | Dimension::ModelYear | Dimension::Band => {
                starts.extend(changes(&table.whole(name)?));
            }
        }
    }
    starts.sort_unstable();
    starts.dedup();
    let ends = starts.iter().skip(1).copied().chain([table.len()]);
    let first_rows = table.rows(&starts)?;
    let keys = keys(&Table::new(&first_rows), dimensions)?;
    let ranges = starts.iter().zip(ends).map(|(start, end)| *start..end);
    Ok(keys.into_iter().zip(ranges).collect())
}

/// Positions whose value is another than the one before.
fn changes<T: PartialEq>(values: &[T]) -> impl Iterator<Item = usize> {
    let pairs = values.windows(2).enumerate();
    pairs.filter_map(|(i, pair)| matches!(pair, [a, b] if a != b).then_some(i + 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_sorts_last() {
        let mut parts = [
            KeyPart::Unknown,
            KeyPart::Text("b".into()),
            KeyPart::Text("a".into()),
        ];
        parts.sort();
        assert_eq!(parts.last(), Some(&KeyPart::Unknown));
        assert_eq!(KeyPart::band(Some(-1)), KeyPart::Unknown);
    }
}
