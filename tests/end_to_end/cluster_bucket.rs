//! The sample's answers on a real cluster that reads a real object store, and what happens when something between them is wrong.
//!
//! Left out of a plain `cargo test` like `cluster_real.rs`; `tests/cluster/run` runs both.

use std::collections::BTreeSet;
use std::path::Path;

use crate::cluster_real::{ask, failed, half_done, store, timed};
use crate::cluster_servers::Servers;
use crate::object_store::{BUCKET, ObjectStore};

const QUESTIONS: &[&str] = &[
    "rates --by family,cause",
    "rates --by band,model-year --units us",
    "shares",
    "life --by family --head-off",
    "readings --family alder-4 --test cranking_compression",
    "budget --roster roster --months 12",
];

/// The environment of a client: the cluster, the bucket, and the way to it; what comes later counts.
fn environment(address: &str, bucket: &ObjectStore) -> Vec<(&'static str, String)> {
    let mut environment = bucket.environment();
    environment.push(("BORETALLY_ENGINE", address.to_owned()));
    environment.push(("BORETALLY_OBJECT_STORE", format!("s3://{BUCKET}/tests")));
    environment
}

fn borrowed<'a>(environment: &'a [(&'static str, String)]) -> Vec<(&'a str, &'a str)> {
    environment.iter().map(|(n, v)| (*n, v.as_str())).collect()
}

#[test]
#[ignore = "needs a cluster: tests/cluster/run"]
fn executors_that_see_only_the_bucket_answer_as_the_embedded_engine() {
    let bucket = ObjectStore::start();
    let trust = tempfile::tempdir().unwrap();
    let mut theirs = bucket.environment();
    // Nobody to be trusted, since there is no TLS: they would read all certificates for each look at a table.
    theirs.push(("SSL_CERT_FILE", "/dev/null".into()));
    theirs.push(("SSL_CERT_DIR", trust.path().to_str().unwrap().into()));
    let servers = Servers::start(2, None, &borrowed(&theirs));
    let (here, there) = (store("bucket-embedded"), store("bucket-cluster"));
    // A path that leads to the store in the client's process only: in the cluster's it leads to a folder without one.
    let only_here = Path::new("/proc/self/cwd").join(there.file_name().unwrap());
    let environment = environment(&servers.address(), &bucket);
    println!(
        "2 executors, files in a bucket: seconds embedded, seconds cluster, objects put, objects read, question; the first makes history"
    );
    let (mut put, mut got) = (0, 0);
    for question in QUESTIONS {
        let (expected, alone) = timed(|| ask(question, &here, &[]).json());
        let (answer, time) = timed(|| ask(question, &only_here, &borrowed(&environment)).json());
        let puts = bucket.asked("PUT").len();
        let gets = bucket.asked("GET").len();
        println!(
            "{:8.2} {:8.2} {:5} {:5}  {question}",
            alone.as_secs_f64(),
            time.as_secs_f64(),
            puts - put,
            gets - got
        );
        (put, got) = (puts, gets);
        assert_eq!(answer, expected, "{question}");
    }
    assert_eq!(half_done(&there), [] as [String; 0]);
    // Only the cluster reads objects, and it had use for each.
    let distinct = |method: &str| bucket.asked(method).into_iter().collect::<BTreeSet<_>>();
    let (put, got) = (distinct("PUT"), distinct("GET"));
    assert!(put.len() > 100, "{}", put.len());
    assert!(got == put, "{} read of {} put", got.len(), put.len());
    // Rows held in memory and steps on the way to history went at the end.
    let left = bucket.keys();
    println!(
        "{} objects put, {} of them removed",
        put.len(),
        put.len() - left.len()
    );
    assert!(!left.is_empty() && left.is_subset(&put) && left.len() < put.len());
}

#[test]
#[ignore = "needs a cluster: tests/cluster/run"]
fn a_bucket_that_cannot_be_had_is_told_of_and_leaves_nothing() {
    let mut bucket = ObjectStore::start();
    let mut wrong = bucket.environment();
    wrong.push(("AWS_SECRET_ACCESS_KEY", "guess".into()));
    let servers = Servers::start(0, None, &borrowed(&wrong));
    let store = store("bucket-faults");
    let fails = |bucket: &ObjectStore, name: &'static str, value: &str, said: &str, named: &str| {
        let mut environment = environment(&servers.address(), bucket);
        environment.push((name, value.to_owned()));
        let ran = ask("rates", &store, &borrowed(&environment));
        println!("{name}={value}: {}", ran.err.trim());
        failed(&ran, named, said);
        let secret = bucket.environment().pop().unwrap().1;
        assert!(!ran.err.contains(&secret), "{}", ran.err);
        assert_eq!(half_done(&store), [] as [String; 0]);
    };
    let place = "s3://shop-records/tests";
    let credentials = "AWS_SECRET_ACCESS_KEY";
    fails(
        &bucket,
        credentials,
        "guess",
        "SignatureDoesNotMatch",
        place,
    );
    let (variable, none) = ("BORETALLY_OBJECT_STORE", "s3://no-such-bucket");
    fails(&bucket, variable, none, "NoSuchBucket", none);
    // The client is known to the object store, the cluster is not.
    fails(
        &bucket,
        variable,
        place,
        "could not open",
        &servers.address(),
    );
    bucket.stop();
    fails(&bucket, variable, place, "does not answer", place);
}
