//! What an object store answers to those it knows and to others, and what is told of it.

use crate::bucket_stub::{BUCKET, Bucket, Habit, LENT};
use crate::cluster_copies::{open, open_with, store};

#[test]
fn what_an_object_store_says_is_told_with_a_way_out() {
    let folder = tempfile::tempdir().unwrap();
    let (layout, files) = store(folder.path(), &[("batches/a", b"the rows")]);
    let bucket = Bucket::start(Habit::default());
    let mut copies = open(&bucket, &layout).unwrap();
    for (status, code, way) in [
        (404, "NoSuchBucket", "make the bucket"),
        (403, "SignatureDoesNotMatch", "AWS_SECRET_ACCESS_KEY"),
        (401, "Unauthorized", "AWS_SECRET_ACCESS_KEY"),
        (403, "RequestTimeTooSkewed", "clock"),
        (400, "ExpiredToken", "AWS_SESSION_TOKEN"),
        (400, "AuthorizationHeaderMalformed", "AWS_REGION"),
        (501, "NotImplemented", "removing many objects"),
        (503, "SlowDown", "run this again"),
        (507, "InsufficientStorage", "run this again"),
        (400, "EntityTooLarge", "BORETALLY_OBJECT_STORE"),
    ] {
        bucket.behave(Habit {
            refuses: Some(("/", status, code)),
            ..Habit::default()
        });
        let put = copies.bring(&files).unwrap_err().to_string();
        assert!(put.contains(", key deep/er/"), "{put}");
        let list = open(&bucket, &layout).err().unwrap().to_string();
        for text in [put, list] {
            let (number, said) = (format!(": {status} "), format!("{code}: it said {code}"));
            for words in [
                "s3://shop-records/deep/er",
                "bucket shop-records",
                &number,
                &said,
            ] {
                assert!(text.contains(words), "{text}");
            }
            let (_, way_out) = text.split_once("way out").unwrap();
            assert!(way_out.contains(way), "{text}");
        }
    }
    // A bucket of another region is said to be elsewhere, not where.
    bucket.behave(Habit {
        refuses: Some(("/", 301, "PermanentRedirect")),
        ..Habit::default()
    });
    let text = open(&bucket, &layout).err().unwrap().to_string();
    assert!(text.contains("AWS_REGION"), "{text}");
}

#[test]
fn what_is_lent_for_a_time_is_told_with_its_token() {
    let folder = tempfile::tempdir().unwrap();
    let (layout, files) = store(folder.path(), &[("batches/a", b"the rows")]);
    let bucket = Bucket::start(Habit::default());
    let mut copies = open_with(&bucket, &layout, &LENT).unwrap();
    copies.bring(&files).unwrap();
    assert_eq!(bucket.keys().len(), 1);
    for without in [&LENT[..1], &[LENT[0], ("AWS_SESSION_TOKEN", "guess")]] {
        let text = open_with(&bucket, &layout, without).err().unwrap();
        let text = text.to_string();
        assert!(text.contains("SignatureDoesNotMatch"), "{text}");
        assert!(
            !text.contains("sesame") && !text.contains("guess"),
            "{text}"
        );
    }
}

#[test]
fn an_endpoint_that_names_the_bucket_is_taken_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let (layout, files) = store(folder.path(), &[("batches/a", b"the rows")]);
    let bucket = Bucket::start(Habit::default());
    let endpoint = format!("{}/{BUCKET}/", bucket.endpoint());
    let by_host = [
        ("AWS_ENDPOINT_URL", endpoint.as_str()),
        ("AWS_VIRTUAL_HOSTED_STYLE_REQUEST", "true"),
    ];
    let mut copies = open_with(&bucket, &layout, &by_host).unwrap();
    let there = copies.bring(&files).unwrap();
    let prefix = format!("s3://{BUCKET}/");
    assert_eq!(bucket.keys(), [there[0].strip_prefix(&prefix).unwrap()]);
}
