//! An object store in this process, over a folder, that can be made to misbehave.
//!
//! It knows what a client of ours asks: lists, two objects a page, objects put whole or in parts, and removals of many at once. What is
//! not signed, or is not what its hash says, it refuses; whether a signature is right is for a real server to tell (`cluster_bucket.rs`).

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;

use boretally::store::durable::sha256;

/// The bucket that is there.
pub const BUCKET: &str = "shop-records";
/// Who is known, as the variables say it.
pub const CREDENTIALS: [(&str, &str); 3] = [
    ("AWS_ACCESS_KEY_ID", "anna"),
    ("AWS_SECRET_ACCESS_KEY", "open-sesame"),
    ("AWS_ALLOW_HTTP", "true"),
];

/// Who is known for a time.
pub const LENT: [(&str, &str); 2] = [
    ("AWS_ACCESS_KEY_ID", "berta-for-a-day"),
    ("AWS_SESSION_TOKEN", "today"),
];

/// Objects on a page of a list.
const PAGE: usize = 2;

/// How the server behaves.
#[derive(Debug, Clone, Copy, Default)]
pub struct Habit {
    /// Answers so many requests with "slow down".
    pub busy: usize,
    /// Answers requests that contain all these words with an error: status and code.
    pub refuses: Option<(&'static str, u16, &'static str)>,
    /// Removes nothing, and says so of each object with this code.
    pub keeps: Option<&'static str>,
}

#[derive(Default)]
struct State {
    habit: Habit,
    asked: Vec<String>,
    /// Uploads in parts that are neither finished nor aborted.
    begun: BTreeMap<String, BTreeMap<usize, Vec<u8>>>,
    number: usize,
    stopped: bool,
}

/// The running server.
pub struct Bucket {
    folder: tempfile::TempDir,
    port: u16,
    state: Arc<Mutex<State>>,
    thread: Option<JoinHandle<()>>,
}

impl Bucket {
    /// Starts on a free port of this host.
    pub fn start(habit: Habit) -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir(folder.path().join(BUCKET)).unwrap();
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let state = Arc::new(Mutex::new(State {
            habit,
            ..State::default()
        }));
        let serving = (folder.path().to_path_buf(), state.clone());
        let thread = std::thread::spawn(move || {
            for stream in listener.incoming() {
                if serving.1.lock().unwrap().stopped {
                    return;
                }
                let (folder, state) = serving.clone();
                std::thread::spawn(move || serve(stream.unwrap(), &folder, &state));
            }
        });
        Self {
            folder,
            port,
            state,
            thread: Some(thread),
        }
    }

    /// Where it answers.
    pub fn endpoint(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    /// The folder whose folders are buckets.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// How it behaves from now on.
    pub fn behave(&self, habit: Habit) {
        self.state.lock().unwrap().habit = habit;
    }

    /// What was asked since the last time: method, key and query.
    pub fn asked(&self) -> Vec<String> {
        std::mem::take(&mut self.state.lock().unwrap().asked)
    }

    /// Uploads in parts that were neither finished nor aborted.
    pub fn begun(&self) -> usize {
        self.state.lock().unwrap().begun.len()
    }

    /// The keys of all objects.
    pub fn keys(&self) -> Vec<String> {
        keys(&self.folder.path().join(BUCKET))
    }

    /// Ends it; nobody answers any more.
    pub fn stop(&mut self) {
        self.state.lock().unwrap().stopped = true;
        // Wakes the listener, which then goes.
        drop(TcpStream::connect(("127.0.0.1", self.port)));
        if let Some(thread) = self.thread.take() {
            thread.join().unwrap();
        }
    }
}

impl Drop for Bucket {
    fn drop(&mut self) {
        self.stop();
    }
}

/// The files below a folder, by their path in it.
fn keys(folder: &Path) -> Vec<String> {
    let mut keys = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(next) = folders.pop() {
        for entry in std::fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            match path.is_dir() {
                true => folders.push(path),
                false => keys.push(path.strip_prefix(folder).unwrap().to_str().unwrap().into()),
            }
        }
    }
    keys.sort();
    keys
}

struct Asked {
    method: String,
    bucket: String,
    key: String,
    query: BTreeMap<String, String>,
    body: Vec<u8>,
}

type Answer = (u16, Option<String>, String);

fn serve(stream: TcpStream, folder: &Path, state: &Mutex<State>) {
    let Some((asked, line, known)) = read(&stream) else {
        return;
    };
    let mut state = state.lock().unwrap();
    state.asked.push(line.clone());
    let meant = |what: &str| what.split(' ').all(|word| line.contains(word));
    let refused = state.habit.refuses.filter(|(what, ..)| meant(what));
    let (status, tag, text) = if let Some((_, status, code)) = refused {
        error(status, code)
    } else if state.habit.busy > 0 {
        state.habit.busy -= 1;
        error(503, "SlowDown")
    } else if !known {
        error(403, "SignatureDoesNotMatch")
    } else if !folder.join(&asked.bucket).is_dir() {
        error(404, "NoSuchBucket")
    } else {
        answer(asked, &folder.join(BUCKET), &mut state)
    };
    drop(state);
    let tag = tag.map_or_else(String::new, |t| format!("ETag: \"{t}\"\r\n"));
    let head = format!(
        "HTTP/1.1 {status} said\r\n{tag}Content-Length: {}\r\nConnection: close\r\n\r\n",
        text.len()
    );
    let mut stream = stream;
    // A client that has gone needs no answer.
    let _ = stream.write_all(&[head.as_bytes(), text.as_bytes()].concat());
}

/// A request, its first line, and whether it is signed by who is known and is what its hash says.
fn read(stream: &TcpStream) -> Option<(Asked, String, bool)> {
    let mut reader = BufReader::new(stream);
    let mut line = String::new();
    reader.read_line(&mut line).ok()?;
    let (method, rest) = line.trim_end().strip_suffix(" HTTP/1.1")?.split_once(' ')?;
    let mut headers = BTreeMap::new();
    loop {
        let mut header = String::new();
        reader.read_line(&mut header).ok()?;
        let Some((name, value)) = header.trim_end().split_once(": ") else {
            break;
        };
        headers.insert(name.to_ascii_lowercase(), value.to_owned());
    }
    let length = headers
        .get("content-length")
        .map_or(0, |l| l.parse().unwrap());
    let mut body = vec![0; length];
    reader.read_exact(&mut body).ok()?;
    let (path, query) = rest.split_once('?').unwrap_or((rest, ""));
    let (bucket, key) = path[1..].split_once('/').unwrap_or((&path[1..], ""));
    let query = query.split('&').filter_map(|p| p.split_once('='));
    let token = headers.get("x-amz-security-token").map(String::as_str);
    let signed = headers.get("authorization").is_some_and(|a| {
        let by = |id: &str| a.starts_with(&format!("AWS4-HMAC-SHA256 Credential={id}/"));
        let lent = token == Some(LENT[1].1) && a.contains("x-amz-security-token");
        (by("anna") || by(LENT[0].1) && lent) && a.contains("Signature=")
    });
    let asked = Asked {
        method: method.to_owned(),
        bucket: bucket.to_owned(),
        key: key.to_owned(),
        query: query
            .map(|(n, v)| (n.to_owned(), v.replace("%2F", "/")))
            .collect(),
        body,
    };
    let known = signed && headers.get("x-amz-content-sha256") == Some(&sha256(&asked.body));
    Some((asked, format!("{method} {rest}"), known))
}

fn answer(asked: Asked, bucket: &Path, state: &mut State) -> Answer {
    let place = bucket.join(&asked.key);
    let query = |name: &str| asked.query.get(name);
    match (asked.method.as_str(), query("uploadId")) {
        ("GET", _) if asked.key.is_empty() => list(bucket, &asked),
        ("POST", None) if asked.key.is_empty() => remove(bucket, &asked, state.habit.keeps),
        ("POST", None) => {
            state.number += 1;
            let id = format!("{}/{}", state.number, asked.key);
            state.begun.insert(id.clone(), BTreeMap::new());
            (200, None, format!("<R><UploadId>{id}</UploadId></R>"))
        }
        ("PUT", Some(id)) => {
            let number = query("partNumber").unwrap().parse().unwrap();
            state.begun.get_mut(id).unwrap().insert(number, asked.body);
            (200, Some(format!("part{number}")), String::new())
        }
        ("POST", Some(id)) => {
            let parts = state.begun.remove(id).unwrap();
            let told =
                |n: &usize| format!("<Part><ETag>\"part{n}\"</ETag><PartNumber>{n}</PartNumber>");
            let text = String::from_utf8(asked.body).unwrap();
            assert!(parts.keys().all(|n| text.contains(&told(n))), "{text}");
            put(&place, &parts.into_values().flatten().collect::<Vec<_>>());
            (200, None, "<R><ETag>whole</ETag></R>".into())
        }
        ("DELETE", Some(id)) => {
            state.begun.remove(id);
            (204, None, String::new())
        }
        ("PUT", None) => {
            put(&place, &asked.body);
            (200, Some("whole".into()), String::new())
        }
        _ => error(405, "MethodNotAllowed"),
    }
}

fn list(bucket: &Path, asked: &Asked) -> Answer {
    let after = asked.query.get("continuation-token");
    let mut keys = keys(bucket);
    keys.retain(|k| k.starts_with(&asked.query["prefix"]) && after.is_none_or(|a| k > a));
    let mut text = String::from("<?xml version=\"1.0\"?>\n<ListBucketResult xmlns=\"x\">");
    for key in keys.iter().take(PAGE) {
        let size = bucket.join(key).metadata().unwrap().len();
        text += &format!(
            "<Contents><Key>{key}</Key><Size>{size}</Size><LastModified>2024-06-30T23:59:59.000Z</LastModified></Contents>"
        );
    }
    if keys.len() > PAGE {
        let last = &keys[PAGE - 1];
        text += &format!("<NextContinuationToken>{last}</NextContinuationToken>");
    }
    (200, None, text + "</ListBucketResult>")
}

fn remove(bucket: &Path, asked: &Asked, keeps: Option<&str>) -> Answer {
    let text = std::str::from_utf8(&asked.body).unwrap();
    let keys = text.split("<Key>").skip(1);
    let each = keys.map(|rest| {
        let (key, _) = rest.split_once("</Key>").unwrap();
        if let Some(code) = keeps {
            return format!(
                "<Error><Key>{key}</Key><Code>{code}</Code><Message>no</Message></Error>"
            );
        }
        // As S3: what is not there is as good as removed.
        let _ = std::fs::remove_file(bucket.join(key));
        format!("<Deleted><Key>{key}</Key></Deleted>")
    });
    let each: String = each.collect();
    (200, None, format!("<DeleteResult>{each}</DeleteResult>"))
}

fn put(place: &Path, bytes: &[u8]) {
    std::fs::create_dir_all(place.parent().unwrap()).unwrap();
    std::fs::write(place, bytes).unwrap();
}

fn error(status: u16, code: &str) -> Answer {
    let text = format!("<Error><Code>{code}</Code><Message>it said {code}</Message></Error>");
    (status, None, text)
}
