//! The way to a bucket. The crate `object_store` signs what is asked, sends it, and asks again where the object store was busy for a
//! moment.

use std::time::Duration;

use futures::stream::{self, StreamExt, TryStreamExt};
use object_store::aws::{AmazonS3, AmazonS3Builder};
use object_store::path::Path;
use object_store::{
    BackoffConfig, ClientOptions, HeaderValue, ObjectMeta, ObjectStore, RetryConfig,
};

use super::access::Access;
use super::fault;
use super::place::Place;
use crate::domain::problem::{Problem, Result};

/// How long a host may take to answer at all.
const CONNECT: Duration = Duration::from_secs(10);
/// Longest time of a request that carries nothing much.
const SHORT: Duration = Duration::from_secs(30);
/// Longest time of a request that carries part of a file.
const LONG: Duration = Duration::from_secs(300);
/// How often a request is sent again that met a busy object store or a broken connection.
const AGAIN: usize = 2;
/// The shortest and the longest wait before that.
const PAUSES: [Duration; 2] = [Duration::from_millis(200), Duration::from_secs(1)];

/// A way to a bucket.
pub struct Client {
    /// For requests that carry nothing much.
    pub(super) asking: AmazonS3,
    /// For requests that carry part of a file.
    pub(super) carrying: AmazonS3,
    place: Place,
    /// Host and port, as they are told.
    host: String,
}

impl Client {
    /// Prepares the way; nothing is asked yet.
    pub fn new(access: &Access, place: Place) -> Result<Self> {
        let host = access.host();
        let store = |longest| {
            store(access, &place, longest)
                .map_err(|e| fault::of(&place, &host, "prepare the way there", None, &e))
        };
        Ok(Self {
            asking: store(SHORT)?,
            carrying: store(LONG)?,
            place,
            host,
        })
    }

    /// Every object below a folder.
    pub async fn list(&self, folder: &str) -> Result<Vec<ObjectMeta>> {
        let doing = "list what lies there";
        let folder = self.path(folder)?;
        let listed = self.asking.list(Some(&folder)).try_collect().await;
        listed.map_err(|e| self.problem(doing, None, &e))
    }

    /// Removes objects; one that is gone already is fine.
    pub async fn remove(&self, keys: impl Iterator<Item = String>) -> Result<()> {
        let keys: Vec<_> = keys.map(|k| self.path(&k)).collect::<Result<_>>()?;
        let keys = stream::iter(keys.into_iter().map(Ok)).boxed();
        let mut removed = self.asking.delete_stream(keys);
        while let Some(one) = removed.next().await {
            match one {
                Err(e) if !fault::is_gone(&e) => {
                    let doing = "remove copies that are no longer needed";
                    return Err(self.problem(doing, None, &e));
                }
                _ => {}
            }
        }
        Ok(())
    }

    /// A key as the library takes it.
    pub fn path(&self, key: &str) -> Result<Path> {
        Path::parse(key).map_err(|e| self.problem("name an object", Some(key), &e.into()))
    }

    /// What was met when something was asked; `doing` completes "could not ...".
    pub fn problem(&self, doing: &str, key: Option<&str>, error: &object_store::Error) -> Problem {
        fault::of(&self.place, &self.host, doing, key, error)
    }
}

fn store(access: &Access, place: &Place, longest: Duration) -> object_store::Result<AmazonS3> {
    let options = ClientOptions::new()
        .with_user_agent(HeaderValue::from_static(concat!(
            "boretally/",
            env!("CARGO_PKG_VERSION")
        )))
        .with_connect_timeout(CONNECT)
        .with_timeout(longest)
        // Whether it may be so was decided when the variables were read.
        .with_allow_http(access.bucket.scheme() == "http");
    let retry = RetryConfig {
        max_retries: AGAIN,
        // A host that was silent for the longest time is not asked again, one that cannot be reached not for ever.
        retry_timeout: longest * 2 / 3,
        backoff: BackoffConfig {
            init_backoff: PAUSES[0],
            max_backoff: PAUSES[1],
            ..BackoffConfig::default()
        },
    };
    let mut builder = AmazonS3Builder::new()
        .with_client_options(options)
        .with_retry(retry)
        .with_bucket_name(place.bucket())
        // So told, the library takes the address for the bucket's own, which it is.
        .with_virtual_hosted_style_request(true)
        .with_endpoint(access.bucket.as_str().trim_end_matches('/'))
        .with_region(&access.region)
        .with_access_key_id(&access.key_id)
        .with_secret_access_key(&access.secret);
    if let Some(token) = &access.token {
        builder = builder.with_token(token);
    }
    builder.build()
}
