//! Which bucket, and where in it.

use std::fmt;

use crate::domain::problem::{Problem, Result};

/// Where a cluster finds copies of the store's files; unset where it sees the store's folder.
pub const OBJECT_STORE: &str = "BORETALLY_OBJECT_STORE";

const SCHEME: &str = "s3://";

/// A bucket, and the prefix of all keys in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    bucket: String,
    /// Without slashes at its ends; may be empty.
    prefix: String,
}

impl Place {
    /// Reads `s3://bucket` or `s3://bucket/prefix`.
    pub fn parse(text: &str) -> Result<Self> {
        let rest = text
            .strip_prefix(SCHEME)
            .ok_or_else(|| wrong(text, "this is no place in an object store"))?;
        let (bucket, prefix) = rest.split_once('/').unwrap_or((rest, ""));
        let plain = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b"-.".contains(&b);
        if !(3..=63).contains(&bucket.len()) || !bucket.bytes().all(plain) {
            return Err(wrong(
                text,
                "a bucket's name is 3 to 63 lower-case letters, digits, dots and hyphens",
            ));
        }
        let prefix = prefix.strip_suffix('/').unwrap_or(prefix);
        let plain = |b: u8| b.is_ascii_alphanumeric() || b"-._~".contains(&b);
        let is_name = |s: &str| !matches!(s, "" | "." | "..") && s.bytes().all(plain);
        if !prefix.is_empty() && !prefix.split('/').all(is_name) {
            // Other signs are written differently by every program that reads an address.
            return Err(wrong(
                text,
                "a prefix is names of letters, digits and - . _ ~, with one slash between them",
            ));
        }
        Ok(Self {
            bucket: bucket.to_owned(),
            prefix: prefix.to_owned(),
        })
    }

    /// The bucket's name.
    pub fn bucket(&self) -> &str {
        &self.bucket
    }

    /// The key of the object of that name.
    pub fn key(&self, name: &str) -> String {
        match self.prefix.as_str() {
            "" => name.to_owned(),
            prefix => format!("{prefix}/{name}"),
        }
    }

    /// The address of the object of that name, as the cluster is told it.
    pub fn address(&self, name: &str) -> String {
        format!("{SCHEME}{}/{}", self.bucket, self.key(name))
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{SCHEME}{}", self.bucket)?;
        match self.prefix.as_str() {
            "" => Ok(()),
            prefix => write!(f, "/{prefix}"),
        }
    }
}

fn wrong(text: &str, what: &str) -> Problem {
    let problem = Problem::usage(what).field(OBJECT_STORE);
    // An address with a user may hold a password, which must not be seen.
    let problem = match text.contains('@') {
        true => problem,
        false => problem.value(text),
    };
    problem.remedy(
        "write s3://bucket/prefix, or unset it where the cluster sees the store's folder; who we are is told by the variables AWS_...",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::problem::Kind;

    #[test]
    fn a_place_is_a_bucket_and_a_prefix() {
        for (text, address) in [
            ("s3://shop-records", "s3://shop-records/x"),
            ("s3://shop-records/", "s3://shop-records/x"),
            ("s3://shop.1/a/B_~/", "s3://shop.1/a/B_~/x"),
        ] {
            let place = Place::parse(text).unwrap();
            assert_eq!(place.address("x"), address);
            assert_eq!(place.to_string(), text.trim_end_matches('/'));
        }
        assert_eq!(Place::parse("s3://shop-records").unwrap().key("x"), "x");
    }

    #[test]
    fn what_is_no_place_is_a_mistake_of_the_command() {
        for text in [
            "shop-records",
            "gs://shop-records",
            "s3://",
            "s3://ab",
            "s3://Shop",
            "s3://anna:secret@shop-records",
            "s3://shop-records//a",
            "s3://shop-records/a/../b",
            "s3://shop-records/a b",
            "s3://shop-records/a%20b",
            "s3://shop-records/a?b=c",
        ] {
            let problem = Place::parse(text).unwrap_err();
            assert_eq!(problem.kind(), Kind::Usage, "{text}");
            let said = problem.to_string();
            assert!(
                said.contains(OBJECT_STORE) && said.contains("way out"),
                "{said}"
            );
            assert!(!said.contains("secret"), "{said}");
        }
    }
}
