//! The rules a record can fall foul of: reasons (a value or record could not be used and went to quarantine) and flags
//! (a rule touched the row, which was kept). Each is listed once, with its meaning and the way out; the reasons for which a
//! record cannot even be split into cells are the readers' own.

pub mod flag;
pub mod reason;

pub use flag::Flag;
pub use reason::{Reason, Rejection};

use super::read::DamageReason;

/// The way out of a rule by its id; empty for an id that no rule has.
pub fn way_out(id: &str) -> &'static str {
    let reason = Reason::ALL
        .iter()
        .find(|r| r.id() == id)
        .map(|r| r.way_out());
    let damage = || {
        DamageReason::ALL
            .iter()
            .find(|d| d.id() == id)
            .map(|d| d.remedy())
    };
    let flag = || Flag::ALL.iter().find(|f| f.id() == id).map(|f| f.way_out());
    reason.or_else(damage).or_else(flag).unwrap_or("")
}

/// All rules as Markdown, for `ingest --rules` and the documentation.
pub fn listing() -> String {
    let mut text = String::from(
        "# Rules of ingest\n\n## Reasons of quarantine\n\n| id | meaning | way out |\n|---|---|---|\n",
    );
    for d in DamageReason::ALL {
        text += &format!(
            "| `{}` | The record cannot be split into cells. | {} |\n",
            d.id(),
            d.remedy()
        );
    }
    for r in Reason::ALL {
        text += &format!("| `{}` | {} | {} |\n", r.id(), r.meaning(), r.way_out());
    }
    text += "\n## Flags on rows that are kept\n\n| id | meaning | way out |\n|---|---|---|\n";
    for f in Flag::ALL {
        text += &format!("| `{}` | {} | {} |\n", f.id(), f.meaning(), f.way_out());
    }
    text
}
