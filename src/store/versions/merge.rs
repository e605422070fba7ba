//! Several runs into one, without the rows of batches that no longer count.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};
use std::path::Path;

use super::entry::Entry;
use super::run::{Run, Walk, Writer};
use crate::domain::problem::{Problem, Result};

/// One input of a merge: its walk, and the tags of its batches in the run that comes out.
struct Input<'a> {
    walk: Walk<'a>,
    tags: Vec<Option<u32>>,
}

impl Input<'_> {
    fn next(&mut self) -> Result<Option<Entry>> {
        while let Some(entry) = self.walk.next_entry()? {
            if let Some(Some(tag)) = self.tags.get(entry.tag() as usize) {
                return Ok(Some(entry.with_tag(*tag)));
            }
        }
        Ok(None)
    }
}

/// Writes the rows of `runs` whose batches count to a new run at `path`.
pub(super) fn merge(runs: &[&Run], path: &Path) -> Result<Run> {
    let mut numbers: BTreeMap<&str, u32> = BTreeMap::new();
    for run in runs {
        let counting = run
            .batches()
            .iter()
            .zip(0..)
            .filter(|(_, tag)| run.counts(*tag));
        numbers.extend(counting.map(|(name, _)| (name.as_str(), 0)));
    }
    let names: Vec<String> = numbers.keys().map(|n| (*n).to_owned()).collect();
    if names.len() >= Entry::TAGS as usize {
        return Err(
            Problem::data("too many batches in one run of known versions")
                .remedy("run `boretally store compact`"),
        );
    }
    for (number, tag) in numbers.values_mut().zip(0..) {
        *number = tag;
    }
    let mut inputs: Vec<Input> = runs.iter().map(|run| input(run, &numbers)).collect();
    let mut writer = Writer::create(path)?;
    let mut heads = BinaryHeap::new();
    for (i, input) in inputs.iter_mut().enumerate() {
        heads.extend(input.next()?.map(|entry| Reverse((entry, i))));
    }
    while let Some(mut head) = heads.peek_mut() {
        let Reverse((entry, i)) = *head;
        writer.add(entry)?;
        match inputs.get_mut(i).map(Input::next).transpose()?.flatten() {
            Some(entry) => *head = Reverse((entry, i)),
            None => {
                std::collections::binary_heap::PeekMut::pop(head);
            }
        }
    }
    writer.finish(&names)
}

/// Batches are numbered by name, in which order they come in every run: entries stay sorted under their new tags.
fn input<'a>(run: &'a Run, numbers: &BTreeMap<&str, u32>) -> Input<'a> {
    let tags = run.batches().iter().zip(0..);
    let tags = tags.map(|(name, tag)| {
        numbers
            .get(name.as_str())
            .copied()
            .filter(|_| run.counts(tag))
    });
    Input {
        walk: run.walk(),
        tags: tags.collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn write(path: &Path, names: &[&str], mut entries: Vec<Entry>) -> Run {
        entries.sort();
        let mut writer = Writer::create(path).unwrap();
        for entry in entries {
            writer.add(entry).unwrap();
        }
        let names: Vec<String> = names.iter().map(|n| (*n).to_owned()).collect();
        writer.finish(&names).unwrap()
    }

    #[test]
    fn rows_come_together_in_order_and_dead_batches_go() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let entry = |key: u64, tag: u32| Entry::new(key, key << 32, tag);
        let mut one = write(
            &at("1"),
            &["b", "d"],
            (0..900).map(|k| entry(k, (k % 2) as u32)).collect(),
        );
        let two = write(
            &at("2"),
            &["c"],
            (0..900).map(|k| entry(k / 2, 0)).collect(),
        );
        let three = write(&at("3"), &["a"], vec![]);
        one.set_counting(|name| name != "d");
        let run = merge(&[&one, &two, &three], &at("m")).unwrap();
        assert_eq!(run.batches(), ["a", "b", "c"]);
        let mut expected: Vec<Entry> = (0..900).step_by(2).map(|k| entry(k, 1)).collect();
        expected.extend((0..450).map(|k| entry(k, 2)));
        expected.sort();
        let mut walk = run.walk();
        let found: Vec<Entry> = std::iter::from_fn(|| walk.next_entry().unwrap()).collect();
        assert_eq!(found, expected);
    }
}
