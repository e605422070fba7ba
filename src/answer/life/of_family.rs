//! One family's part of an answer, for its page of a report.

use super::types::Life;
use super::{caveats, verdict};
use crate::answer::label::{LabelId, RowKey};
use crate::tally::Dimension;

impl Life {
    /// The answer of one family alone, where groups are split by family only; none if it has no group.
    pub fn of_family(&self, family: &str, title: &str) -> Option<Self> {
        let of = |key: &RowKey| {
            let id = key.part(Dimension::Family).and_then(|l| l.id.as_ref());
            matches!(id, Some(LabelId::Text(id)) if id == family)
        };
        let group = self.groups.iter().find(|g| of(&g.key))?;
        let mut life = Self {
            groups: vec![group.clone()],
            whose: title.to_string(),
            comparisons: Vec::new(),
            sensitivity: self
                .sensitivity
                .iter()
                .filter(|r| of(&r.key))
                .cloned()
                .collect(),
            ..self.clone()
        };
        life.question.families = vec![family.to_string()];
        life.verdict = verdict::verdict(&life);
        life.caveats = caveats::life(&life);
        Some(life)
    }
}
