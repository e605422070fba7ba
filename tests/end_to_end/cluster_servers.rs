//! A scheduler and executors of Apache DataFusion Ballista as processes of this host, for the tests of `cluster_real.rs` and `cluster_bucket.rs`.

use std::fs::File;
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Folder of the programs `scheduler` and `executor`; `tests/cluster/run` builds them and sets it.
pub const PROGRAMS: &str = "BORETALLY_CLUSTER_PROGRAMS";

/// Longest time to come up.
const STARTING: Duration = Duration::from_secs(120);

/// The running cluster; ends with its value.
pub struct Servers {
    port: u16,
    scheduler: Child,
    executors: Vec<Child>,
    folder: tempfile::TempDir,
    environment: Vec<(String, String)>,
}

impl Servers {
    /// Starts a scheduler and so many executors, and waits until all know each other; `authorization` is the only header of a
    /// handshake that is let in, where there is one. `environment` is theirs besides ours.
    pub fn start(
        executors: usize,
        authorization: Option<&str>,
        environment: &[(&str, &str)],
    ) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let port = free_port();
        let mut command = program("scheduler", folder.path());
        command.envs(environment.iter().copied());
        command.args([
            "--bind-host",
            "127.0.0.1",
            "--external-host",
            "127.0.0.1",
            "--flight-sql",
        ]);
        command.args(["--bind-port", &port.to_string()]);
        command.args(["--min-ready-executors", &executors.to_string()]);
        // Soon noticed, so that the tests of lost executors do not wait for minutes.
        command.args(["--executor-timeout-seconds", "10"]);
        command.args(["--expire-dead-executor-interval-seconds", "2"]);
        command.args(["--no-executors-grace-period-seconds", "10"]);
        if let Some(header) = authorization {
            command.env("FLIGHT_SQL_AUTHORIZATION", header);
        }
        let mut servers = Self {
            port,
            scheduler: command.spawn().unwrap(),
            executors: Vec::new(),
            folder,
            environment: environment
                .iter()
                .map(|(n, v)| ((*n).into(), (*v).into()))
                .collect(),
        };
        servers.wait("/healthz");
        for number in 0..executors {
            let executor = servers.executor(number);
            servers.executors.push(executor);
        }
        if executors > 0 {
            servers.wait("/readyz");
        }
        servers
    }

    fn executor(&self, number: usize) -> Child {
        let work = self.folder.path().join(format!("work-{number}"));
        std::fs::create_dir_all(&work).unwrap();
        let mut command = program("executor", self.folder.path());
        command.envs(self.environment.iter().map(|(n, v)| (n, v)));
        command.args([
            "--scheduler-host",
            "127.0.0.1",
            "--scheduler-port",
            &self.port.to_string(),
        ]);
        command.args(["--bind-host", "127.0.0.1", "--external-host", "127.0.0.1"]);
        command.args(["--bind-port", &free_port().to_string()]);
        command.args(["--bind-grpc-port", &free_port().to_string()]);
        command.args([
            "--vcores",
            "2",
            "--executor-heartbeat-interval-seconds",
            "2",
        ]);
        command.arg("--work-dir").arg(work);
        command.spawn().unwrap()
    }

    /// As typed after `--engine`.
    pub fn address(&self) -> String {
        format!("flight-sql://127.0.0.1:{}", self.port)
    }

    /// Kills the scheduler: no farewell.
    pub fn kill_scheduler(&mut self) {
        end(&mut self.scheduler);
    }

    /// Kills one executor: no farewell.
    pub fn kill_executor(&mut self) {
        end(&mut self.executors.pop().unwrap());
    }

    /// Waits until the scheduler answers this question with yes.
    fn wait(&mut self, path: &str) {
        let begun = Instant::now();
        while !self.says_yes(path) {
            let ended = self.scheduler.try_wait().unwrap();
            assert!(ended.is_none(), "the scheduler ended: {ended:?}");
            assert!(begun.elapsed() < STARTING, "the cluster did not come up");
            std::thread::sleep(Duration::from_millis(100));
        }
    }

    fn says_yes(&self, path: &str) -> bool {
        let Ok(mut stream) = TcpStream::connect(("127.0.0.1", self.port)) else {
            return false;
        };
        let question =
            format!("GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n");
        let mut answer = String::new();
        stream.write_all(question.as_bytes()).is_ok()
            && stream.read_to_string(&mut answer).is_ok()
            && answer.starts_with("HTTP/1.1 200")
    }
}

impl Drop for Servers {
    fn drop(&mut self) {
        self.executors.iter_mut().for_each(end);
        end(&mut self.scheduler);
    }
}

pub fn end(child: &mut Child) {
    // One that has ended already is what is wanted.
    let _ = child.kill();
    let _ = child.wait();
}

fn program(name: &str, folder: &Path) -> Command {
    let programs = std::env::var_os(PROGRAMS).unwrap_or_else(|| {
        panic!("{PROGRAMS} is not set; tests/cluster/run builds the programs and sets it")
    });
    let log = File::options()
        .create(true)
        .append(true)
        .open(folder.join(format!("{name}.log")));
    let log = log.unwrap();
    let mut command = Command::new(PathBuf::from(programs).join(name));
    command
        .stdin(Stdio::null())
        .stdout(log.try_clone().unwrap())
        .stderr(log);
    command
}

pub fn free_port() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    listener.local_addr().unwrap().port()
}
