//! A file into the bucket: in one piece, or in parts that become an object only when all are there.
//!
//! Either way nobody ever sees half of it. What is sent is signed with its hash, so a piece that was damaged on its way is refused.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use futures::stream::{self, StreamExt, TryStreamExt};
use reqwest::Method;
use serde::Deserialize;

use super::client::{Client, Request};
use crate::domain::problem::{AtFile, Problem, Result};

/// Bytes of a part. A file of more goes in parts; object stores take parts of 5 MiB and more, and those on their way are in memory.
pub const PART: u64 = 16 << 20;
/// Parts that an object store takes of one file.
const MOST_PARTS: u64 = 10_000;
/// Parts of one file on their way at once.
const AT_ONCE: usize = 4;

#[derive(Deserialize)]
#[serde(rename_all = "PascalCase")]
struct Begun {
    upload_id: String,
}

/// Copies a file of that size under a key; `sent` is told of bytes that have arrived.
pub async fn upload(
    client: &Client,
    file: &Path,
    size: u64,
    key: &str,
    sent: &dyn Fn(u64),
) -> Result<()> {
    if size <= PART {
        let body = read(file, 0, size)?;
        put(client, file, key, &[], body).await?;
        sent(size);
        return Ok(());
    }
    let text = ask(
        client,
        file,
        Method::POST,
        key,
        &[("uploads", "")],
        Vec::new(),
    )
    .await?;
    let begun: Begun = quick_xml::de::from_str(&text)
        .map_err(|e| client.odd(&doing(file), &format!("the upload has no number: {e}")))?;
    let id = begun.upload_id.as_str();
    let done = in_parts(client, file, size, key, id, sent).await;
    if done.is_err() {
        // The first error is what matters; parts that stay are never seen, and go as the bucket's rules say.
        let _ = ask(
            client,
            file,
            Method::DELETE,
            key,
            &[("uploadId", id)],
            Vec::new(),
        )
        .await;
    }
    done
}

async fn in_parts(
    client: &Client,
    file: &Path,
    size: u64,
    key: &str,
    id: &str,
    sent: &dyn Fn(u64),
) -> Result<()> {
    let each = PART.max(size.div_ceil(MOST_PARTS));
    let parts = (0..size.div_ceil(each)).map(|i| async move {
        let from = i * each;
        let length = each.min(size - from);
        let number = (i + 1).to_string();
        let query = [("partNumber", number.as_str()), ("uploadId", id)];
        let tag = put(client, file, key, &query, read(file, from, length)?).await?;
        sent(length);
        let tag = tag.ok_or_else(|| client.odd(&doing(file), "a part has no tag"))?;
        Ok::<_, Problem>(format!(
            "<Part><PartNumber>{number}</PartNumber><ETag>{}</ETag></Part>",
            quick_xml::escape::escape(&tag)
        ))
    });
    let parts: Vec<String> = stream::iter(parts).buffered(AT_ONCE).try_collect().await?;
    let whole = format!(
        "<CompleteMultipartUpload>{}</CompleteMultipartUpload>",
        parts.concat()
    );
    let query = [("uploadId", id)];
    ask(client, file, Method::POST, key, &query, whole.into_bytes()).await?;
    Ok(())
}

async fn put(
    client: &Client,
    file: &Path,
    key: &str,
    query: &[(&str, &str)],
    body: Vec<u8>,
) -> Result<Option<String>> {
    let request = Request {
        doing: &doing(file),
        method: Method::PUT,
        key: Some(key),
        query,
        body,
    };
    Ok(client.send(request).await?.tag)
}

async fn ask(
    client: &Client,
    file: &Path,
    method: Method,
    key: &str,
    query: &[(&str, &str)],
    body: Vec<u8>,
) -> Result<String> {
    let request = Request {
        doing: &doing(file),
        method,
        key: Some(key),
        query,
        body,
    };
    Ok(client.send(request).await?.text)
}

fn doing(file: &Path) -> String {
    format!("copy {} there", file.display())
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
