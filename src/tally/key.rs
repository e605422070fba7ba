//! The key of a group: one part for each dimension of the tally.

use std::collections::HashMap;
use std::hash::Hash;

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

/// The groups of a result's rows.
pub(super) struct Groups {
    /// The key of each, in the order in which they first occur.
    pub keys: Vec<Vec<KeyPart>>,
    /// For each row, the position of its key.
    pub of_row: Vec<usize>,
}

/// The keys of a result of many rows in any order, each once.
pub(super) fn groups(table: &Table<'_>, dimensions: &[Dimension]) -> Result<Groups> {
    let mut of_row = vec![0; table.len()];
    let mut firsts: Vec<usize> = (!table.is_empty()).then_some(0).into_iter().collect();
    for dimension in dimensions {
        let name = dimension.column();
        firsts = match dimension {
            Dimension::Family | Dimension::Cause | Dimension::Site => {
                split(&mut of_row, &table.words(name)?)
            }
            Dimension::Cylinder | Dimension::ModelYear | Dimension::Band => {
                split(&mut of_row, &table.whole(name)?)
            }
        };
    }
    let first_rows = table.rows(&firsts)?;
    Ok(Groups {
        keys: keys(&Table::new(&first_rows), dimensions)?,
        of_row,
    })
}

/// Splits groups of rows by a further column; gives the first row of each.
fn split<T: Copy + Eq + Hash>(of_row: &mut [usize], values: &[T]) -> Vec<usize> {
    let mut numbers: HashMap<(usize, T), usize> = HashMap::new();
    let mut firsts = Vec::new();
    for (row, (group, value)) in of_row.iter_mut().zip(values).enumerate() {
        *group = *numbers.entry((*group, *value)).or_insert_with(|| {
            firsts.push(row);
            firsts.len() - 1
        });
    }
    firsts
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
