//! Reads one file on one thread, translates its records on others, and takes them up in order on this one, where they are judged
//! against what the store knows and written.
//!
//! Portion i goes to translator i modulo their number and is asked of it in the same turn: the order of the file is kept without any
//! sorting. Channels hold a few portions, so that memory does not grow with the file.

use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread::{self, ScopedJoinHandle};

use crate::domain::problem::{Problem, Result};
use crate::ingest::account::FileAccount;
use crate::ingest::read::{RawRecord, ReadOutcome, RecordReader};
use crate::ingest::translate::Settings;
use crate::store::batch_writer::BatchWriter;

use super::batch::OnProgress;
use super::filling::Filling;
use super::known::Judge;
use super::portion::{Count, Portion, Records};

/// Threads that translate; beside them one reads and one writes, which have less to do.
const TRANSLATORS: usize = 2;

/// Portions that wait between two threads.
const WAITING: usize = 1;

/// What taking up the portions of a file gives.
pub(super) struct Taken<'a, 't> {
    pub(super) batch: &'a mut BatchWriter,
    pub(super) account: &'a mut FileAccount,
    pub(super) judge: Judge<'t>,
    /// Which of the used columns ever had a value.
    pub(super) seen: Vec<bool>,
}

impl Taken<'_, '_> {
    /// Reads to the end of the file.
    pub(super) fn read_all<'s>(
        &mut self,
        reader: &mut dyn RecordReader,
        settings: impl Fn() -> Settings<'s> + Sync,
        on_progress: OnProgress,
    ) -> Result<()> {
        let origin = self.batch.origin();
        thread::scope(|scope| {
            let (settings, mut to, mut from) = (&settings, Vec::new(), Vec::new());
            let (give_back, used) = channel();
            let mut translators = Vec::new();
            for _ in 0..TRANSLATORS {
                let (records, to_translate) = sync_channel(WAITING);
                let (translated, portions) = sync_channel(WAITING);
                let (origin, give_back) = (origin.clone(), give_back.clone());
                let work = move || {
                    let filling = Filling::new(settings(), origin);
                    translate(filling, &to_translate, &translated, &give_back);
                };
                let started = thread::Builder::new().spawn_scoped(scope, work);
                translators.push(started.map_err(no_thread)?);
                to.push(records);
                from.push(portions);
            }
            let read = move || read(reader, &to, &used);
            let reading = thread::Builder::new()
                .spawn_scoped(scope, read)
                .map_err(no_thread)?;
            let mut taken = 0;
            for portions in (0..from.len()).cycle() {
                let Some(Ok(portion)) = from.get(portions).map(Receiver::recv) else {
                    break;
                };
                let portion = portion?;
                if let Some(progress) = portion.progress {
                    on_progress(progress);
                }
                self.take(portion)?;
                taken += 1;
            }
            drop(from);
            let read = joined(reading)??;
            for translator in translators {
                joined(translator)?;
            }
            if read == taken {
                Ok(())
            } else {
                Err(Problem::data(format!(
                    "{read} portions of the file were read and {taken} taken up"
                )))
            }
        })
    }

    fn take(&mut self, portion: Portion) -> Result<()> {
        portion.count_in(self.account);
        for (seen, here) in self.seen.iter_mut().zip(&portion.seen) {
            *seen |= here;
        }
        let mut versions = portion.versions.as_slice();
        for (count, rows) in &portion.records {
            let (own, rest) = versions.split_at(*rows);
            versions = rest;
            self.judge.add(*count, own)?;
            match count {
                Count::Kept => self.account.kept += 1,
                Count::Flagged => self.account.flagged += 1,
                Count::Quarantined => {}
            }
        }
        for (table, rows) in &portion.rows {
            self.batch.sink(*table)?.append(rows)?;
        }
        Ok(())
    }
}

/// Reads the file in portions; gives their number, or why it cannot be read further. Ends early when nobody takes them any more.
fn read(
    reader: &mut dyn RecordReader,
    to: &[SyncSender<Records>],
    used: &Receiver<Records>,
) -> Result<u64> {
    let mut last_line = 0;
    let mut sent = 0;
    for translator in to.iter().cycle() {
        let mut records = used.try_recv().unwrap_or_default();
        records.clear();
        let ended = fill(reader, &mut records, &mut last_line)?;
        records.progress = Some(reader.progress());
        if !records.is_empty() {
            if translator.send(records).is_err() {
                break;
            }
            sent += 1;
        }
        if ended {
            break;
        }
    }
    Ok(sent)
}

/// Reads one portion; says whether the file ended. Line numbers tell records apart, so several records of one line (JSON) are
/// numbered on.
fn fill(reader: &mut dyn RecordReader, records: &mut Records, last_line: &mut u64) -> Result<bool> {
    while !records.is_full() {
        let record: &mut RawRecord = records.next();
        let (line, damage) = match reader.read(record)? {
            ReadOutcome::Record => (record.line(), None),
            ReadOutcome::Damaged(damage) => (damage.line, Some(damage)),
            ReadOutcome::End => return Ok(true),
        };
        *last_line = line.max(*last_line + 1);
        records.add(*last_line, damage);
    }
    Ok(false)
}

/// Translates portion after portion, until there is none or nobody wants more.
fn translate(
    mut filling: Filling,
    records: &Receiver<Records>,
    to: &SyncSender<Result<Portion>>,
    give_back: &Sender<Records>,
) {
    for records in records {
        let portion = filling.fill(&records);
        // The reader may have come to its end and need no buffer.
        let _ = give_back.send(records);
        let failed = portion.is_err();
        if to.send(portion).is_err() || failed {
            return;
        }
    }
}

fn joined<T>(thread: ScopedJoinHandle<T>) -> Result<T> {
    thread
        .join()
        .map_err(|payload| Problem::stopped_inside("reading the file", payload.as_ref()))
}

fn no_thread(error: std::io::Error) -> Problem {
    Problem::data(format!(
        "no thread could be started to read the file: {error}"
    ))
}
