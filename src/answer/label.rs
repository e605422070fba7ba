//! What a row is called: the words behind the ids of its key.

use serde::ser::{Serialize, SerializeMap, Serializer};

use crate::domain::catalog::{Catalog, Kind};
use crate::domain::family::Families;
use crate::domain::mileage_band::MileageBands;
use crate::tally::{Dimension, KeyPart};

/// One part of a row's key: the dimension, its id and its words.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    /// Which dimension.
    pub dimension: Dimension,
    /// Stable id; `None` when unknown.
    pub id: Option<LabelId>,
    /// What people read.
    pub title: String,
}

/// The id of a label, text or number.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum LabelId {
    /// Family, cause, site or band.
    Text(String),
    /// Cylinder or model year.
    Number(i64),
}

/// A row's key as a JSON object: dimension to id, null where unknown.
#[derive(Debug, Clone, PartialEq)]
pub struct RowKey(pub Vec<Label>);

impl RowKey {
    /// The words of the key in one line.
    pub fn title(&self) -> String {
        if self.0.is_empty() {
            return "all".to_string();
        }
        self.0
            .iter()
            .map(|l| l.title.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    }

    /// Whether some part of it is unknown.
    pub fn has_unknown(&self) -> bool {
        self.0.iter().any(|l| l.id.is_none())
    }

    /// The label of a dimension, if the rows are split by it.
    pub fn part(&self, dimension: Dimension) -> Option<&Label> {
        self.0.iter().find(|l| l.dimension == dimension)
    }
}

impl Serialize for RowKey {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for label in &self.0 {
            match &label.id {
                Some(LabelId::Text(t)) => map.serialize_entry(label.dimension.name(), t)?,
                Some(LabelId::Number(n)) => map.serialize_entry(label.dimension.name(), n)?,
                None => map.serialize_entry(label.dimension.name(), &None::<&str>)?,
            }
        }
        map.end()
    }
}

/// Knows the words of every id.
#[derive(Debug, Clone, Copy)]
pub struct Labels<'a> {
    /// Causes.
    pub catalog: &'a Catalog,
    /// Engine families.
    pub families: &'a Families,
    /// Mileage bands.
    pub bands: &'a MileageBands,
}

impl Labels<'_> {
    /// The key of a tally row in words.
    pub fn key(&self, dimensions: &[Dimension], parts: &[KeyPart]) -> RowKey {
        RowKey(
            dimensions
                .iter()
                .zip(parts)
                .map(|(d, p)| self.label(*d, p))
                .collect(),
        )
    }

    /// Title of a family, or its id when it has none.
    pub fn family(&self, id: &str) -> String {
        self.families
            .get(id)
            .map_or_else(|| id.to_string(), |f| f.title.clone())
    }

    /// Title of a cause; the words of an outcome for what was not understood; its id when the catalog knows neither.
    pub fn cause(&self, id: &str) -> String {
        match self.catalog.cause(id) {
            Some(cause) => cause.title.clone(),
            None => self.catalog.title(Kind::Outcome, id).to_string(),
        }
    }

    /// Title of a repair, or its id when the catalog does not know it.
    pub fn repair(&self, id: &str) -> String {
        self.catalog.title(Kind::Repair, id).to_string()
    }

    fn label(&self, dimension: Dimension, part: &KeyPart) -> Label {
        let (id, title) = match part {
            KeyPart::Unknown => (
                None,
                format!("{} unknown", dimension.name().replace('_', " ")),
            ),
            KeyPart::Text(t) => {
                let title = match dimension {
                    Dimension::Family => self.family(t),
                    Dimension::Cause => self.cause(t),
                    _ => t.clone(),
                };
                (Some(LabelId::Text(t.clone())), title)
            }
            KeyPart::Number(n) => {
                let title = if dimension == Dimension::Cylinder {
                    format!("cylinder {n}")
                } else {
                    n.to_string()
                };
                (Some(LabelId::Number(*n)), title)
            }
            KeyPart::Band(i) => {
                let label = self.bands.label(*i);
                (Some(LabelId::Text(label.clone())), label)
            }
        };
        Label {
            dimension,
            id,
            title,
        }
    }
}
