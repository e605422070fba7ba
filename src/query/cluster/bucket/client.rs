//! Requests to a bucket: signed, sent, and asked again where the object store was busy for a moment.

use std::time::Duration;

use jiff::Timestamp;
use reqwest::header::{ETAG, HeaderName, HeaderValue};
use reqwest::{Method, redirect};
use serde::Deserialize;

use super::access::Access;
use super::fault;
use super::place::Place;
use super::signature::{self, Signed};
use crate::domain::problem::{Problem, Result};
use crate::store::durable::sha256;

/// How long a host may take to answer at all.
const CONNECT: Duration = Duration::from_secs(10);
/// Longest time of a request that carries nothing much.
const SHORT: Duration = Duration::from_secs(30);
/// Longest time of a request that carries part of a file.
const LONG: Duration = Duration::from_secs(300);
/// Waits before a request is sent again that met a busy object store or a broken connection.
const PAUSES: [Duration; 2] = [Duration::from_millis(200), Duration::from_secs(1)];

/// A request about the bucket or an object in it.
pub struct Request<'a> {
    /// Completes "could not ...".
    pub doing: &'a str,
    /// GET, PUT, POST or DELETE.
    pub method: Method,
    /// The object; none for the bucket.
    pub key: Option<&'a str>,
    /// What else is asked.
    pub query: &'a [(&'a str, &'a str)],
    /// What is sent.
    pub body: Vec<u8>,
}

/// What came back, if it was no error.
pub struct Answer {
    /// The tag of what was put.
    pub tag: Option<String>,
    /// The words of the answer.
    pub text: String,
}

/// An object in the bucket.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "PascalCase")]
pub struct Object {
    /// Its key.
    pub key: String,
    /// Its bytes.
    pub size: u64,
}

/// A page of the list of objects.
#[derive(Deserialize)]
#[serde(rename_all = "PascalCase")]
struct Page {
    #[serde(default)]
    contents: Vec<Object>,
    next_continuation_token: Option<String>,
}

/// A way to a bucket.
#[derive(Debug)]
pub struct Client {
    http: reqwest::Client,
    access: Access,
    place: Place,
}

impl Client {
    /// Prepares the way; nothing is asked yet.
    pub fn new(access: Access, place: Place) -> Result<Self> {
        let http = reqwest::Client::builder()
            .user_agent(concat!("boretally/", env!("CARGO_PKG_VERSION")))
            .connect_timeout(CONNECT)
            // A request that goes elsewhere would not be the one that was signed.
            .redirect(redirect::Policy::none())
            .build()
            .map_err(|e| fault::unreachable(&place, &access, "prepare the way there", e))?;
        Ok(Self {
            http,
            access,
            place,
        })
    }

    /// A problem with an answer that is not understood.
    pub fn odd(&self, doing: &str, what: &str) -> Problem {
        fault::odd(&self.place, doing, what)
    }

    /// Every object whose key begins so.
    pub async fn list(&self, prefix: &str) -> Result<Vec<Object>> {
        let doing = "list what lies there";
        let mut objects = Vec::new();
        let mut next: Option<String> = None;
        loop {
            let mut query = vec![("list-type", "2"), ("prefix", prefix)];
            query.extend(next.as_deref().map(|t| ("continuation-token", t)));
            let asked = Request {
                doing,
                method: Method::GET,
                key: None,
                query: &query,
                body: Vec::new(),
            };
            let text = self.send(asked).await?.text;
            let page: Page = quick_xml::de::from_str(&text)
                .map_err(|e| self.odd(doing, &format!("its list is damaged: {e}")))?;
            objects.extend(page.contents);
            next = page.next_continuation_token;
            if next.is_none() {
                return Ok(objects);
            }
        }
    }

    /// Removes an object; one that is gone already is fine.
    pub async fn remove(&self, key: &str) -> Result<()> {
        let asked = Request {
            doing: "remove a copy that is no longer needed",
            method: Method::DELETE,
            key: Some(key),
            query: &[],
            body: Vec::new(),
        };
        self.send(asked).await.map(drop)
    }

    /// Sends a request and waits for its answer.
    pub async fn send(&self, request: Request<'_>) -> Result<Answer> {
        let (doing, key) = (request.doing, request.key);
        let unreachable = |e| fault::unreachable(&self.place, &self.access, doing, e);
        let ready = self.signed(request)?;
        let mut pauses = PAUSES.iter();
        loop {
            let again = ready.try_clone();
            let again = again.ok_or_else(|| self.odd(doing, "the request cannot be sent"))?;
            let came = match self.http.execute(again).await {
                Ok(response) => {
                    let status = response.status();
                    let tag = response.headers().get(ETAG);
                    let tag = tag.and_then(|t| t.to_str().ok()).map(str::to_owned);
                    response.text().await.map(|text| (status, tag, text))
                }
                Err(e) => Err(e),
            };
            let problem = match came {
                // The end of an upload in parts can fail after it was answered with yes.
                Ok((status, tag, text)) if status.is_success() && !fault::is_error(&text) => {
                    return Ok(Answer { tag, text });
                }
                Ok((status, _, text)) => {
                    let problem = fault::of_answer(&self.place, doing, key, status, &text);
                    if status.is_client_error() || status.is_redirection() {
                        return Err(problem);
                    }
                    problem
                }
                // A host that was silent for so long is not asked again.
                Err(e) if e.is_timeout() => return Err(unreachable(e)),
                Err(e) => unreachable(e),
            };
            match pauses.next() {
                Some(pause) => tokio::time::sleep(*pause).await,
                None => return Err(problem),
            }
        }
    }

    fn signed(&self, request: Request<'_>) -> Result<reqwest::Request> {
        let doing = request.doing;
        let mut url = self.access.bucket.clone();
        if let Some(key) = request.key {
            url.set_path(&format!("{}/{key}", url.path().trim_end_matches('/')));
        }
        if !request.query.is_empty() {
            url.set_query(Some(&signature::query(request.query)));
        }
        let signed = Signed {
            method: request.method.as_str(),
            url: &url,
            content: &sha256(&request.body),
            at: &Timestamp::now().strftime("%Y%m%dT%H%M%SZ").to_string(),
        };
        let headers = signature::headers(&self.access, &signed)?;
        let longest = if request.body.is_empty() { SHORT } else { LONG };
        let mut ready = reqwest::Request::new(request.method, url);
        for (name, value) in headers {
            let mut value = HeaderValue::try_from(value)
                .map_err(|e| self.odd(doing, &format!("the request cannot be signed: {e}")))?;
            value.set_sensitive(true);
            ready
                .headers_mut()
                .insert(HeaderName::from_static(name), value);
        }
        *ready.timeout_mut() = Some(longest);
        *ready.body_mut() = Some(request.body.into());
        Ok(ready)
    }
}
