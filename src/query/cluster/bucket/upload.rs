//! A file into the bucket: in one piece, or in parts that become an object only when all are there.
//!
//! Either way nobody ever sees half of it. What is sent is signed with its hash, so a piece that was damaged on its way is refused.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use futures::stream::{self, StreamExt, TryStreamExt};
use object_store::multipart::{MultipartStore, PartId};
use object_store::{Error, MultipartId, ObjectStoreExt, path};

use super::client::Client;
use crate::domain::problem::{AtFile, Problem, Result};

/// Bytes of a part. A file of more goes in parts; object stores take parts of 5 MiB and more, and those on their way are in memory.
pub const PART: u64 = 16 << 20;
/// Parts that an object store takes of one file.
const MOST_PARTS: u64 = 10_000;
/// Parts of one file on their way at once.
const AT_ONCE: usize = 4;

/// A file on its way.
struct Upload<'a> {
    client: &'a Client,
    file: &'a Path,
    size: u64,
    key: path::Path,
}

/// Copies a file of that size under a key; `sent` is told of bytes that have arrived.
pub async fn upload(
    client: &Client,
    file: &Path,
    size: u64,
    key: &str,
    sent: &dyn Fn(u64),
) -> Result<()> {
    let key = client.path(key)?;
    let upload = Upload {
        client,
        file,
        size,
        key,
    };
    match size <= PART {
        true => upload.whole(sent).await,
        false => upload.in_parts(sent).await,
    }
}

impl Upload<'_> {
    async fn whole(&self, sent: &dyn Fn(u64)) -> Result<()> {
        let bytes = read(self.file, 0, self.size)?;
        let put = self.client.carrying.put(&self.key, bytes.into()).await;
        put.map_err(|e| self.problem(&e))?;
        sent(self.size);
        Ok(())
    }

    async fn in_parts(&self, sent: &dyn Fn(u64)) -> Result<()> {
        let id = self.client.asking.create_multipart(&self.key).await;
        let id = id.map_err(|e| self.problem(&e))?;
        let done = self.parts(&id, sent).await;
        if done.is_err() {
            // The first error is what matters; parts that stay are never seen, and go as the bucket's rules say.
            let _ = self.client.asking.abort_multipart(&self.key, &id).await;
        }
        done
    }

    async fn parts(&self, id: &MultipartId, sent: &dyn Fn(u64)) -> Result<()> {
        let (carrying, key) = (&self.client.carrying, &self.key);
        let each = PART.max(self.size.div_ceil(MOST_PARTS));
        let starts = (0..self.size).step_by(each as usize).enumerate();
        // Each is read when its turn comes, so that no more than those on their way are in memory.
        let parts = starts.map(|(number, from)| async move {
            let length = each.min(self.size - from);
            let bytes = read(self.file, from, length)?;
            let put = carrying.put_part(key, id, number, bytes.into()).await;
            let part = put.map_err(|e| self.problem(&e))?;
            sent(length);
            Ok::<_, Problem>(part)
        });
        let parts = stream::iter(parts).buffered(AT_ONCE);
        let parts: Vec<PartId> = parts.try_collect().await?;
        let completed = carrying.complete_multipart(key, id, parts).await;
        completed.map(drop).map_err(|e| self.problem(&e))
    }

    fn problem(&self, error: &Error) -> Problem {
        let doing = format!("copy {} there", self.file.display());
        self.client.problem(&doing, Some(self.key.as_ref()), error)
    }
}

fn read(file: &Path, from: u64, length: u64) -> Result<Vec<u8>> {
    let mut opened = File::open(file).at_file("read", file)?;
    opened.seek(SeekFrom::Start(from)).at_file("read", file)?;
    let mut bytes = Vec::new();
    let read = opened.take(length).read_to_end(&mut bytes);
    if read.at_file("read", file)? as u64 != length {
        return Err(Problem::data("this file became shorter while it was read")
            .file(file)
            .remedy("run this again; files of a store never change by themselves"));
    }
    Ok(bytes)
}
