//! What a new batch replaces: the same export read before through the same mapping file, whose text was corrected since.
//!
//! Without this, rows of the wrong reading would stay beside those of the right one wherever the mapping's mistake was in
//! the record's key. When the old reading was compacted together with other batches, the rows of the others move over.

use super::batch::Folder;
use super::layout::Layout;
use super::rewrite;
use super::snapshot::Snapshot;
use super::staging::Staging;
use crate::domain::problem::Result;

/// Lets `new` stand in for what it supersedes, taking over the rows of batches that lie in the same folders.
pub(super) fn take_over(
    snapshot: &Snapshot,
    layout: &Layout,
    staging: &Staging,
    new: &mut Folder,
) -> Result<()> {
    let Some(header) = new.members.first().map(|m| m.header.clone()) else {
        return Ok(());
    };
    for old in &snapshot.live {
        let members = &old.folder.members;
        let gone = |b: &&super::BatchInfo| header.supersedes(&b.header);
        let dropped: Vec<i64> = members.iter().filter(gone).map(|b| b.seq).collect();
        if dropped.is_empty() {
            continue;
        }
        new.replaces.push(old.name.clone());
        if dropped.len() < members.len() {
            let rest = rewrite::without_batches(layout, old, &dropped, staging.path())?;
            new.files.extend(rest);
            let kept = members.iter().filter(|b| !dropped.contains(&b.seq));
            new.members.extend(kept.cloned());
        }
    }
    new.members.sort_by_key(|b| b.seq);
    Ok(())
}
