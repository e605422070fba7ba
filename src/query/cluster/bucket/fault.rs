//! What an object store or the way to it said, as a problem that names what failed and what to do.

use reqwest::StatusCode;
use serde::Deserialize;

use super::access::{Access, KEY_ID, REGIONS, SECRET};
use super::place::{OBJECT_STORE, Place};
use crate::domain::problem::Problem;
use crate::query::cluster::fault::{chain, short};

/// An error as object stores tell it.
#[derive(Deserialize, Default)]
#[serde(rename_all = "PascalCase", default)]
struct Said {
    code: String,
    message: String,
}

/// Whether an answer tells of an error, whatever its status.
pub fn is_error(text: &str) -> bool {
    let text = text.trim_start();
    let text = match text.strip_prefix("<?xml") {
        Some(rest) => rest.split_once("?>").map_or("", |(_, rest)| rest),
        None => text,
    };
    text.trim_start().starts_with("<Error")
}

/// No answer; `doing` completes "could not ...".
pub fn unreachable(place: &Place, access: &Access, doing: &str, error: reqwest::Error) -> Problem {
    let host = access.bucket.host_str().unwrap_or_default();
    let port = access.bucket.port_or_known_default().unwrap_or_default();
    let silent = if error.is_timeout() { " in time" } else { "" };
    at(place, Problem::data(format!(
        "could not {doing}: the object store at {host}:{port} does not answer{silent}: {}",
        chain(&error.without_url())
    )))
    .remedy("check that it runs and that AWS_ENDPOINT_URL names it, then run this again; nothing was written")
}

/// An answer that is not understood.
pub fn odd(place: &Place, doing: &str, what: &str) -> Problem {
    at(place, Problem::data(format!("could not {doing}: {what}")))
        .remedy("check that AWS_ENDPOINT_URL names an object store that speaks as S3 does")
}

/// An answer that says no.
pub fn of_answer(
    place: &Place,
    doing: &str,
    key: Option<&str>,
    status: StatusCode,
    text: &str,
) -> Problem {
    let said: Said = match is_error(text) {
        true => quick_xml::de::from_str(text).unwrap_or_default(),
        false => Said::default(),
    };
    let object = key.map_or_else(String::new, |k| format!(", key {k}"));
    // What is no error of an object store may be the page of something else that answers there.
    let words = match (said.code.as_str(), said.message.as_str()) {
        ("", _) => short(&format!("{status} {text}")),
        (code, "") => format!("{status} {code}"),
        (code, message) => format!("{status} {code}: {}", short(message)),
    };
    let problem = Problem::data(format!(
        "could not {doing}: bucket {}{object}: {words}",
        place.bucket()
    ));
    at(place, problem).remedy(remedy(&said.code, status))
}

fn at(place: &Place, problem: Problem) -> Problem {
    problem.field(OBJECT_STORE).value(place.to_string())
}

fn remedy(code: &str, status: StatusCode) -> String {
    match (code, status) {
        ("NoSuchBucket", _) => {
            format!("make the bucket, or correct its name in {OBJECT_STORE}")
        }
        ("RequestTimeTooSkewed", _) => "set the clock of this machine".to_owned(),
        (
            "PermanentRedirect"
            | "AuthorizationHeaderMalformed"
            | "IllegalLocationConstraintException",
            _,
        )
        | (_, StatusCode::MOVED_PERMANENTLY | StatusCode::TEMPORARY_REDIRECT) => {
            format!("set {} to the bucket's region", REGIONS[0])
        }
        (_, StatusCode::FORBIDDEN | StatusCode::UNAUTHORIZED) => format!(
            "set {KEY_ID} and {SECRET} to what the object store knows; they must be allowed to list, put and remove what lies there"
        ),
        _ if status.is_server_error() => {
            "run this again when the object store is well; nothing was written".to_owned()
        }
        _ => format!(
            "correct {OBJECT_STORE} or the variables AWS_..., or see what the object store's log says"
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(status: u16, text: &str) -> String {
        let place = Place::parse("s3://shop-records/a").unwrap();
        let status = StatusCode::from_u16(status).unwrap();
        of_answer(&place, "put a file there", Some("a/b"), status, text).to_string()
    }

    #[test]
    fn an_error_names_bucket_key_words_and_way_out() {
        let xml = |code: &str| {
            format!(
                "<?xml version=\"1.0\"?>\n<Error><Code>{code}</Code><Message>so &amp; so</Message><Resource>/x</Resource></Error>"
            )
        };
        for (status, code, remedy) in [
            (404, "NoSuchBucket", "make the bucket"),
            (403, "SignatureDoesNotMatch", SECRET),
            (403, "RequestTimeTooSkewed", "clock"),
            (301, "PermanentRedirect", "AWS_REGION"),
            (503, "SlowDown", "run this again"),
            (400, "EntityTooLarge", OBJECT_STORE),
        ] {
            let text = told(status, &xml(code));
            assert!(is_error(&xml(code)));
            for words in [
                "s3://shop-records/a",
                "bucket shop-records, key a/b",
                code,
                "so & so",
            ] {
                assert!(text.contains(words), "{text}");
            }
            let (_, way_out) = text.split_once("way out").unwrap();
            assert!(way_out.contains(remedy), "{text}");
        }
    }

    #[test]
    fn what_is_no_answer_of_an_object_store_is_shown_shortly() {
        let text = told(502, &format!("<html>{}</html>", "gone ".repeat(500)));
        assert!(
            text.contains("502") && text.contains("<html>gone"),
            "{text}"
        );
        assert!(text.len() < 1200, "{text}");
        for fine in ["", "<ListBucketResult/>", "<?xml version=\"1.0\"?>"] {
            assert!(!is_error(fine));
        }
    }
}
