//! A real object store as a process of this host, for the tests of `cluster_bucket.rs`: the server of moto, which keeps objects in
//! memory and checks signatures as Amazon's own library makes them.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use futures::TryStreamExt;
use object_store::ObjectStore as _;
use object_store::aws::AmazonS3Builder;
use tokio::runtime::Builder;

use crate::cluster_servers::{end, free_port};

/// The program `moto_server`; `tests/cluster/run` installs it and sets this.
pub const PROGRAM: &str = "BORETALLY_S3_SERVER";
/// The bucket that is there.
pub const BUCKET: &str = "shop-records";

/// Longest time to come up.
const STARTING: Duration = Duration::from_secs(60);
/// Header of a request before signatures are checked: it only says which service is meant.
const FOR_USERS: &str = "Authorization: AWS4-HMAC-SHA256 Credential=x/20240101/us-east-1/iam/aws4_request, SignedHeaders=host, Signature=0\r\nContent-Type: application/x-www-form-urlencoded\r\n";
const POLICY: &str = "%7B%22Version%22%3A%222012-10-17%22%2C%22Statement%22%3A%5B%7B%22Effect%22%3A%22Allow%22%2C%22Action%22%3A%22s3%3A*%22%2C%22Resource%22%3A%22*%22%7D%5D%7D";

/// The running server; ends with its value.
pub struct ObjectStore {
    port: u16,
    server: Child,
    folder: tempfile::TempDir,
    key_id: String,
    secret: String,
}

impl ObjectStore {
    /// Starts with a bucket and one user, who may do everything there; nobody else may do anything.
    pub fn start() -> Self {
        let program = std::env::var_os(PROGRAM).unwrap_or_else(|| {
            panic!("{PROGRAM} is not set; tests/cluster/run installs the program and sets it")
        });
        let folder = tempfile::tempdir().unwrap();
        let log = File::create(folder.path().join("log")).unwrap();
        let port = free_port();
        let server = Command::new(program)
            .args(["-H", "127.0.0.1", "-p", &port.to_string()])
            .stdin(Stdio::null())
            .stdout(log.try_clone().unwrap())
            .stderr(log)
            .spawn();
        let mut store = Self {
            port,
            server: server.unwrap(),
            folder,
            key_id: String::new(),
            secret: String::new(),
        };
        store.wait();
        store.iam("Action=CreateUser&UserName=anna");
        store.iam(&format!(
            "Action=PutUserPolicy&UserName=anna&PolicyName=all&PolicyDocument={POLICY}"
        ));
        let key = store.iam("Action=CreateAccessKey&UserName=anna");
        let between = |name: &str| {
            let (_, rest) = key.split_once(&format!("<{name}>")).unwrap();
            rest.split_once('<').unwrap().0.to_owned()
        };
        (store.key_id, store.secret) = (between("AccessKeyId"), between("SecretAccessKey"));
        store.ask("PUT", &format!("/{BUCKET}"), "", "");
        // From now on every request must be signed by a user who may do what it asks.
        store.ask(
            "POST",
            "/moto-api/reset-auth",
            "Content-Type: text/plain\r\n",
            "0",
        );
        store
    }

    /// What tells programs of this server and of the user it knows.
    pub fn environment(&self) -> Vec<(&'static str, String)> {
        vec![
            (
                "AWS_ENDPOINT_URL",
                format!("http://127.0.0.1:{}", self.port),
            ),
            ("AWS_ALLOW_HTTP", "true".into()),
            ("AWS_REGION", "us-east-1".into()),
            ("AWS_ACCESS_KEY_ID", self.key_id.clone()),
            ("AWS_SECRET_ACCESS_KEY", self.secret.clone()),
        ]
    }

    /// Keys of objects of which this was asked, each time it was.
    pub fn asked(&self, method: &str) -> Vec<String> {
        let log = std::fs::read_to_string(self.folder.path().join("log")).unwrap();
        let begin = format!("{method} /{BUCKET}/");
        let lines = log.lines().filter_map(|l| l.split_once(&begin));
        let keys = lines.map(|(_, rest)| rest.split([' ', '?']).next().unwrap().to_owned());
        keys.collect()
    }

    /// Keys of the objects that are there now.
    pub fn keys(&self) -> BTreeSet<String> {
        let store = AmazonS3Builder::new()
            .with_endpoint(format!("http://127.0.0.1:{}", self.port))
            .with_allow_http(true)
            .with_bucket_name(BUCKET)
            .with_access_key_id(&self.key_id)
            .with_secret_access_key(&self.secret)
            .build()
            .unwrap();
        let runtime = Builder::new_current_thread().enable_all().build().unwrap();
        let listed = runtime.block_on(store.list(None).try_collect::<Vec<_>>());
        let keys = listed.unwrap().into_iter().map(|o| o.location.to_string());
        keys.collect()
    }

    /// Ends it: no farewell.
    pub fn stop(&mut self) {
        end(&mut self.server);
    }

    fn iam(&self, form: &str) -> String {
        self.ask(
            "POST",
            "/",
            FOR_USERS,
            &format!("{form}&Version=2010-05-08"),
        )
    }

    fn ask(&self, method: &str, path: &str, headers: &str, body: &str) -> String {
        let answer = self.try_ask(method, path, headers, body).unwrap();
        assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
        answer
    }

    fn try_ask(
        &self,
        method: &str,
        path: &str,
        headers: &str,
        body: &str,
    ) -> std::io::Result<String> {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port))?;
        let length = body.len();
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n{headers}Content-Length: {length}\r\n\r\n{body}"
        )?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer)?;
        Ok(answer)
    }

    fn wait(&mut self) {
        let begun = Instant::now();
        while self.try_ask("GET", "/moto-api/", "", "").is_err() {
            let ended = self.server.try_wait().unwrap();
            assert!(ended.is_none(), "the object store ended: {ended:?}");
            assert!(
                begun.elapsed() < STARTING,
                "the object store did not come up"
            );
            std::thread::sleep(Duration::from_millis(100));
        }
    }
}

impl Drop for ObjectStore {
    fn drop(&mut self) {
        self.stop();
    }
}
