//! Copies of a store's files in a bucket, against an object store in this process: what is copied, when it is removed, and what is
//! said and left behind when something fails.

use std::path::{Path, PathBuf};

use boretally::domain::problem::{Kind, Result};
use boretally::query::cluster::bucket::mark::Mark;
use boretally::query::cluster::bucket::upload::PART;
use boretally::query::cluster::bucket::{Access, Copies, Place};
use boretally::store::layout::Layout;

use crate::bucket_stub::{BUCKET, Bucket, CREDENTIALS, Habit};
use crate::flight_stub::{self, Stub};
use crate::shop::{Ran, ingest, run_with, write_exports};

/// A folder as a store has it, with files to be copied.
pub fn store(folder: &Path, files: &[(&str, &[u8])]) -> (Layout, Vec<PathBuf>) {
    let layout = Layout::new(folder);
    std::fs::create_dir_all(layout.batches()).unwrap();
    std::fs::create_dir_all(layout.history()).unwrap();
    std::fs::write(layout.settings(), "{}").unwrap();
    let place = |(name, bytes): &(&str, &[u8])| {
        let file = folder.join(name);
        std::fs::write(&file, bytes).unwrap();
        file
    };
    (layout, files.iter().map(place).collect())
}

/// Opens the copies of a store, known as anna.
pub fn open(bucket: &Bucket, layout: &Layout) -> Result<Copies> {
    open_with(bucket, layout, &[])
}

/// The same with other variables, which count before those of anna.
pub fn open_with(bucket: &Bucket, layout: &Layout, other: &[(&str, &str)]) -> Result<Copies> {
    let place = Place::parse(&format!("s3://{BUCKET}/deep/er")).unwrap();
    let endpoint = bucket.endpoint();
    let own = [("AWS_ENDPOINT_URL", endpoint.as_str())];
    let environment = |name: &str| {
        let mut all = other.iter().chain(&own).chain(&CREDENTIALS);
        let known = all.find(|(n, _)| *n == name);
        Ok(known.map(|(_, v)| (*v).to_owned()))
    };
    Copies::open(&place, Access::read(&environment, &place)?, layout)
}

fn content(bucket: &Bucket, address: &str) -> Vec<u8> {
    std::fs::read(bucket.folder().join(address.strip_prefix("s3://").unwrap())).unwrap()
}

fn is_list(asked: &str) -> bool {
    asked.starts_with("GET ") && asked.contains("list-type=2")
}

#[test]
fn a_file_is_copied_once_and_goes_when_the_store_no_longer_has_it() {
    let folder = tempfile::tempdir().unwrap();
    let bucket = Bucket::start(Habit::default());
    let names = [
        "batches/a",
        "batches/b",
        "batches/c",
        "history/.building",
        "history/d",
    ];
    let given: Vec<(&str, &[u8])> = names.iter().map(|n| (*n, n.as_bytes())).collect();
    let (layout, mut files) = store(&folder.path().join("s"), &given);
    let mut copies = open(&bucket, &layout).unwrap();
    let first = copies.bring(&files).unwrap();
    for (address, name) in first.iter().zip(names) {
        assert_eq!(content(&bucket, address), name.as_bytes());
    }
    assert_eq!(copies.bring(&files).unwrap(), first);
    assert_eq!(bucket.asked().iter().filter(|a| !is_list(a)).count(), 5);
    drop(copies);
    assert_eq!(bucket.keys().len(), 5);

    // Another client finds them, on several pages; a finished folder of history is renamed and is not copied again.
    let finished = layout.history().join("finished");
    std::fs::rename(&files[3], &finished).unwrap();
    files[3] = finished;
    bucket.asked();
    let mut copies = open(&bucket, &layout).unwrap();
    assert_eq!(copies.bring(&files).unwrap(), first);
    let asked = bucket.asked();
    assert!(
        asked.len() == 3 && asked.iter().all(|a| is_list(a)),
        "{asked:?}"
    );

    // Other content under the same name is another object; one that is gone, or replaced, is removed by the next.
    std::fs::remove_file(&files[4]).unwrap();
    std::fs::write(&files[4], "history/e").unwrap();
    let second = copies.bring(&files[4..]).unwrap();
    assert_ne!(second[0], first[4]);
    assert_eq!(content(&bucket, &second[0]), b"history/e");
    drop(copies);
    std::fs::remove_file(&files[0]).unwrap();
    drop(open(&bucket, &layout).unwrap());
    let left: Vec<String> = bucket
        .keys()
        .iter()
        .map(|k| format!("s3://{BUCKET}/{k}"))
        .collect();
    let mut expected = [&first[1..4], &second[..]].concat();
    expected.sort();
    assert_eq!(left, expected);
}

#[test]
fn what_is_of_others_stays_and_what_is_not_whole_is_copied_again() {
    let folder = tempfile::tempdir().unwrap();
    let bucket = Bucket::start(Habit::default());
    let file: &[(&str, &[u8])] = &[("batches/a", b"the rows")];
    let (one, files) = store(&folder.path().join("one"), file);
    let (other, others) = store(&folder.path().join("other"), file);
    let mine = open(&bucket, &one).unwrap().bring(&files).unwrap();
    let theirs = open(&bucket, &other).unwrap().bring(&others).unwrap();
    assert_ne!(mine, theirs);
    let mine = bucket.folder().join(mine[0].strip_prefix("s3://").unwrap());
    let letter = mine.with_file_name("letter.parquet");
    std::fs::write(&letter, "not of a store").unwrap();
    std::fs::write(&mine, "half").unwrap();
    open(&bucket, &one).unwrap().bring(&files).unwrap();
    assert_eq!(std::fs::read(&mine).unwrap(), b"the rows");

    // The store of the other is emptied; nothing but its own copy goes.
    std::fs::remove_file(&others[0]).unwrap();
    drop(open(&bucket, &other).unwrap());
    assert!(mine.exists() && letter.exists() && bucket.keys().len() == 2);
}

#[test]
fn a_large_file_goes_in_parts_and_leaves_none_when_one_fails() {
    let folder = tempfile::tempdir().unwrap();
    let size = 2 * PART as usize + 5;
    let bytes: Vec<u8> = (0..size).map(|i| ((i * i) >> 7) as u8).collect();
    let (layout, files) = store(folder.path(), &[("batches/a", &bytes)]);
    for (refuses, told) in [
        (("partNumber=2", 400, "BadDigest"), "BadDigest"),
        (("POST uploads=", 403, "AccessDenied"), "AccessDenied"),
        (("POST uploadId=", 403, "AccessDenied"), "AccessDenied"),
        // Said with a status of success, as object stores do at the end of an upload.
        (("POST uploadId=", 200, "InternalError"), "InternalError"),
        // Or as none does, so that the library knows no name for it.
        (
            ("POST uploadId=", 200, "Other"),
            "invalid multipart response",
        ),
        (
            ("POST uploads=", 200, "Other"),
            "invalid multipart response",
        ),
    ] {
        let bucket = Bucket::start(Habit::default());
        let mut copies = open(&bucket, &layout).unwrap();
        bucket.behave(Habit {
            refuses: Some(refuses),
            ..Habit::default()
        });
        let text = copies.bring(&files).unwrap_err().to_string();
        let key = format!("/{}.parquet", Mark::of(&files[0]).unwrap().text);
        for words in [told, BUCKET, &key, "batches/a", "way out"] {
            assert!(text.contains(words), "{text}");
        }
        assert_eq!((bucket.keys().len(), bucket.begun()), (0, 0));
        bucket.behave(Habit::default());
        let address = copies.bring(&files).unwrap();
        assert!(content(&bucket, &address[0]) == bytes);
        assert_eq!(bucket.begun(), 0);
    }
}

#[test]
fn a_busy_object_store_is_asked_again_and_one_that_says_no_is_not() {
    let folder = tempfile::tempdir().unwrap();
    let (layout, files) = store(folder.path(), &[("batches/a", b"the rows")]);
    let bucket = Bucket::start(Habit {
        busy: 2,
        ..Habit::default()
    });
    let mut copies = open(&bucket, &layout).unwrap();
    assert_eq!(bucket.asked().len(), 3);
    for (status, code, times) in [(503, "SlowDown", 3), (403, "AccessDenied", 1)] {
        bucket.behave(Habit {
            refuses: Some(("PUT", status, code)),
            ..Habit::default()
        });
        let problem = copies.bring(&files).unwrap_err();
        assert_eq!(problem.kind(), Kind::Data);
        assert!(problem.to_string().contains(code), "{problem}");
        assert_eq!(bucket.asked().len(), times, "{code}");
        assert_eq!(bucket.keys(), [] as [String; 0]);
    }
    // What cannot be removed is told of, not left to pile up.
    bucket.behave(Habit::default());
    copies.bring(&files).unwrap();
    drop(copies);
    std::fs::remove_file(&files[0]).unwrap();
    let refuses = Some(("POST ?delete", 403, "AccessDenied"));
    let keeps = Some("AccessDenied");
    for habit in [
        Habit {
            refuses,
            ..Habit::default()
        },
        Habit {
            keeps,
            ..Habit::default()
        },
    ] {
        bucket.behave(habit);
        let text = open(&bucket, &layout).err().unwrap().to_string();
        for words in ["remove", "AccessDenied", "AWS_SECRET_ACCESS_KEY"] {
            assert!(text.contains(words), "{text}");
        }
        assert_eq!(bucket.keys().len(), 1);
    }
    // One that another client has removed meanwhile is as good as removed.
    bucket.behave(Habit {
        keeps: Some("NoSuchKey"),
        ..Habit::default()
    });
    open(&bucket, &layout).unwrap();
}

/// Runs the program on a cluster that sees only buckets.
fn ask(folder: &Path, stub: &Stub, bucket: &Bucket, more: &[(&str, &str)]) -> Ran {
    let place = format!("s3://{BUCKET}");
    let endpoint = bucket.endpoint();
    let mut environment = CREDENTIALS.to_vec();
    environment.extend([
        ("BORETALLY_ENGINE", stub.address.as_str()),
        ("BORETALLY_OBJECT_STORE", &place),
        ("AWS_ENDPOINT_URL", &endpoint),
    ]);
    environment.extend(more);
    let words = [
        "rates",
        "--store",
        "records",
        "--by",
        "family,cause",
        "--format",
        "json",
    ];
    run_with(folder, &environment, &words)
}

/// Marks of all files below a folder.
fn marks(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let each = entries.flat_map(|entry| match entry.unwrap().path() {
        path if path.is_dir() => marks(&path),
        path => vec![Mark::of(&path).unwrap().text],
    });
    each.collect()
}

fn history(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder.join("records/history")).unwrap();
    entries.map(|e| e.unwrap().path()).collect()
}

#[test]
fn a_cluster_that_sees_only_the_bucket_answers_the_same() {
    let folder = tempfile::tempdir().unwrap();
    write_exports(folder.path());
    ingest(folder.path());
    let bucket = Bucket::start(Habit::default());
    let stub = Stub::start_on_buckets(flight_stub::Habit::default(), bucket.folder());
    let answer = ask(folder.path(), &stub, &bucket, &[]).json();
    let embedded = [("BORETALLY_ENGINE", "embedded")];
    assert_eq!(ask(folder.path(), &stub, &bucket, &embedded).json(), answer);
    let told = stub.told();
    let created = told.iter().filter(|t| t.starts_with("CREATE EXTERNAL"));
    assert!(created.clone().count() > 10);
    assert!(
        created
            .clone()
            .all(|t| t.contains("LOCATION 's3://shop-records/"))
    );
    assert_eq!(stub.left(), [] as [String; 0]);

    // What was held in memory, and steps on the way to history, are gone from the bucket; what stays is not copied again.
    let kept = bucket.keys();
    let puts = |asked: &[String]| asked.iter().filter(|a| a.starts_with("PUT")).count();
    assert!(!kept.is_empty() && kept.len() < puts(&bucket.asked()));
    assert_eq!(ask(folder.path(), &stub, &bucket, &[]).json(), answer);
    let asked = bucket.asked();
    assert!(asked.iter().all(|a| is_list(a)), "{asked:?}");
    assert_eq!(bucket.keys(), kept);

    // History made anew by another engine is other files, and the cluster is given those.
    std::fs::remove_dir_all(folder.path().join("records/history")).unwrap();
    assert_eq!(ask(folder.path(), &stub, &bucket, &embedded).json(), answer);
    assert_eq!(ask(folder.path(), &stub, &bucket, &[]).json(), answer);
    let now = bucket.keys();
    assert!(kept.iter().any(|k| !now.contains(k)) && now.iter().any(|k| !kept.contains(k)));
    let marks = marks(&folder.path().join("records"));
    assert!(
        now.iter().all(|k| marks.iter().any(|m| k.contains(m))),
        "{now:?}"
    );
}

#[test]
fn a_bucket_that_fails_is_told_of_and_leaves_no_history() {
    let folder = tempfile::tempdir().unwrap();
    write_exports(folder.path());
    ingest(folder.path());
    let mut bucket = Bucket::start(Habit::default());
    let stub = Stub::start_on_buckets(flight_stub::Habit::default(), bucket.folder());
    let fails = |bucket: &Bucket, more: &[(&str, &str)], code: i32, said: &str| {
        let ran = ask(folder.path(), &stub, bucket, more);
        assert_eq!(
            (ran.code, ran.out.as_str()),
            (Some(code), ""),
            "{}",
            ran.err
        );
        assert!(
            ran.err.contains(said) && ran.err.contains("way out"),
            "{}",
            ran.err
        );
        assert!(!ran.err.contains("sesame"), "{}", ran.err);
        assert_eq!(history(folder.path()), [] as [PathBuf; 0]);
        assert_eq!(stub.left(), [] as [String; 0]);
    };
    fails(
        &bucket,
        &[("BORETALLY_OBJECT_STORE", "shop")],
        2,
        "s3://bucket/prefix",
    );
    fails(
        &bucket,
        &[("AWS_SECRET_ACCESS_KEY", "")],
        2,
        "AWS_SECRET_ACCESS_KEY",
    );
    fails(&bucket, &[("AWS_ALLOW_HTTP", "no")], 2, "AWS_ALLOW_HTTP");
    fails(
        &bucket,
        &[("AWS_ACCESS_KEY_ID", "berta")],
        1,
        "SignatureDoesNotMatch",
    );
    fails(
        &bucket,
        &[("BORETALLY_OBJECT_STORE", "s3://none")],
        1,
        "NoSuchBucket",
    );
    // In the midst of it: the first files of history are there when the next cannot be copied.
    let refuses = Some(("PUT", 507, "InsufficientStorage"));
    bucket.behave(Habit {
        refuses,
        ..Habit::default()
    });
    fails(&bucket, &[], 1, "InsufficientStorage");
    assert_eq!(bucket.keys(), [] as [String; 0]);
    bucket.stop();
    fails(&bucket, &[], 1, "does not answer");
}
