//! What an object store or the way to it said, as a problem that names what failed and what to do.
//!
//! The library keeps the status and the text of an answer in an error that is not public; what is told here of them is read out of its
//! words, which the tests of `bucket_answers.rs` hold it to.

use std::error::Error;

use object_store::client::{HttpError, HttpErrorKind};
use serde::Deserialize;

use super::access::{KEY_ID, REGIONS, SECRET, TOKEN};
use super::place::{OBJECT_STORE, Place};
use crate::domain::problem::Problem;
use crate::query::cluster::fault::{chain, short};

/// What stands before the status and the text of an answer that says no.
const STATUS: &str = "Server returned non-2xx status code: ";
/// What stands before the text of one that says no with a status of success.
const ANSWER: &str = "Server returned error response: ";
/// What is said of an answer that sends us elsewhere without saying where.
const ELSEWHERE: &str = "Received redirect without LOCATION";
/// What stands before the code, at the end, when one of many objects could not be removed.
const CODE: &str = "(code: ";

/// An answer that says no.
struct No {
    /// Number and name; empty where they are not told.
    status: String,
    /// The object store's word for it; empty where the answer is none of an object store.
    code: String,
    /// The whole of it, for people.
    words: String,
}

/// An error as object stores tell it.
#[derive(Deserialize, Default)]
#[serde(rename_all = "PascalCase", default)]
struct Said {
    code: String,
    message: String,
}

/// The problem of an error that was met; `doing` completes "could not ...".
pub fn of(
    place: &Place,
    host: &str,
    doing: &str,
    key: Option<&str>,
    error: &object_store::Error,
) -> Problem {
    if let Some(broken) = causes(error).find_map(|e| e.downcast_ref::<HttpError>()) {
        return unreachable(place, host, doing, broken);
    }
    let object = key.map_or_else(String::new, |k| format!(", key {k}"));
    let told = |words: &str| {
        let what = format!(
            "could not {doing}: bucket {}{object}: {words}",
            place.bucket()
        );
        Problem::data(what)
            .field(OBJECT_STORE)
            .value(place.to_string())
    };
    match answer(error) {
        Some(no) => told(&no.words).remedy(remedy(&no)),
        None => told(&chain(error)).remedy(format!(
            "check that AWS_ENDPOINT_URL names an object store that speaks as S3 does, and that nothing but copies lies below {place}"
        )),
    }
}

/// What led to an error, the first cause last.
fn causes(error: &object_store::Error) -> impl Iterator<Item = &(dyn Error + 'static)> {
    let mut next = error.source();
    std::iter::from_fn(move || {
        let cause = next?;
        next = cause.source();
        Some(cause)
    })
}

/// Whether an error says that an object is not there.
pub fn is_gone(error: &object_store::Error) -> bool {
    answer(error).is_some_and(|no| no.code == "NoSuchKey")
}

fn unreachable(place: &Place, host: &str, doing: &str, error: &HttpError) -> Problem {
    let silent = match error.kind() {
        HttpErrorKind::Timeout => " in time",
        _ => "",
    };
    let words = error.source().map_or_else(|| chain(error), chain);
    Problem::data(format!(
        "could not {doing}: the object store at {host} does not answer{silent}: {words}"
    ))
    .field(OBJECT_STORE)
    .value(place.to_string())
    .remedy("check that it runs and that AWS_ENDPOINT_URL names it, then run this again; nothing was written")
}

/// What an object store answered, if that is what the error tells of.
fn answer(error: &object_store::Error) -> Option<No> {
    let told = causes(error).last()?;
    let told = told.to_string();
    let (status, text) = match told.strip_prefix(STATUS) {
        Some(rest) => rest.split_once(": ").unwrap_or((rest, "")),
        None => ("", told.strip_prefix(ANSWER).unwrap_or_default()),
    };
    if let Some(said) = said(text) {
        let words = match said.message.as_str() {
            "" => said.code.clone(),
            message => format!("{}: {}", said.code, short(message)),
        };
        return Some(No {
            status: status.to_owned(),
            words: format!("{status} {words}").trim_start().to_owned(),
            code: said.code,
        });
    }
    let code = told.rsplit_once(CODE).map(|(_, rest)| rest);
    let known = code.is_some()
        || [STATUS, ANSWER, ELSEWHERE]
            .iter()
            .any(|w| told.starts_with(w));
    known.then(|| No {
        status: status.to_owned(),
        code: code.unwrap_or_default().trim_end_matches(')').to_owned(),
        words: short(&told),
    })
}

/// Reads an answer; what is no error of an object store may be the page of something else that answers there.
fn said(text: &str) -> Option<Said> {
    let error = text.get(text.find("<Error")?..)?;
    let said: Said = quick_xml::de::from_str(error).ok()?;
    (!said.code.is_empty()).then_some(said)
}

fn remedy(no: &No) -> String {
    let number = no.status.split(' ').next().unwrap_or_default();
    match (no.code.as_str(), number) {
        ("NoSuchBucket", _) => {
            format!("make the bucket, or correct its name in {OBJECT_STORE}")
        }
        ("RequestTimeTooSkewed", _) => "set the clock of this machine".to_owned(),
        ("ExpiredToken" | "TokenRefreshRequired" | "InvalidToken", _) => {
            format!("what was lent for a time has ended: set {KEY_ID}, {SECRET} and {TOKEN} anew")
        }
        ("AuthorizationHeaderMalformed" | "IllegalLocationConstraintException", _) => {
            elsewhere()
        }
        ("NotImplemented", _) => {
            "take an object store that speaks as S3 does in all that is needed: lists, uploads in parts, removing many objects at once".to_owned()
        }
        ("AccessDenied", _) | (_, "401" | "403") => format!(
            "set {KEY_ID} and {SECRET} to what the object store knows; they must be allowed to list, put and remove what lies there"
        ),
        ("InternalError" | "SlowDown", _) => later(),
        _ if number.starts_with('5') => later(),
        _ if number.starts_with('3') || no.words.starts_with(ELSEWHERE) => elsewhere(),
        _ => format!(
            "correct {OBJECT_STORE} or the variables AWS_..., or see what the object store's log says"
        ),
    }
}

fn elsewhere() -> String {
    format!("set {} to the bucket's region", REGIONS[0])
}

fn later() -> String {
    "run this again when the object store is well; nothing was written".to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(source: &str) -> String {
        let place = Place::parse("s3://shop-records/a").unwrap();
        let error = object_store::Error::Generic {
            store: "S3",
            source: source.into(),
        };
        of(&place, "host:1", "put a file there", Some("a/b"), &error).to_string()
    }

    #[test]
    fn an_answer_is_read_out_of_the_words_of_the_library() {
        let text = told(&format!(
            "{STATUS}409 Conflict: <?xml version=\"1.0\"?>\n<Error><Code>A</Code><Message>so &amp; so</Message><Resource>/x</Resource></Error>"
        ));
        for words in [
            "s3://shop-records/a",
            "could not put a file there: bucket shop-records, key a/b: 409 Conflict A: so & so",
            "way out",
        ] {
            assert!(text.contains(words), "{text}");
        }
    }

    #[test]
    fn what_is_no_answer_of_an_object_store_is_shown_shortly() {
        let page = format!(
            "{STATUS}502 Bad Gateway: <html>{}</html>",
            "gone ".repeat(500)
        );
        for (source, way_out) in [
            (page.as_str(), "run this again"),
            (&format!("{STATUS}403 Forbidden: <Error>"), SECRET),
            (&format!("{STATUS}404 Not Found: "), OBJECT_STORE),
            ("no list", "AWS_ENDPOINT_URL"),
        ] {
            let text = told(source);
            let (words, remedy) = text.split_once("way out").unwrap();
            let begin: String = source.chars().take(40).collect();
            assert!(words.contains(begin.trim()), "{text}");
            assert!(remedy.contains(way_out) && text.len() < 1200, "{text}");
        }
    }
}
