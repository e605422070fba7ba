//! A Flight SQL server in this process, over the embedded engine, that can be made to misbehave.
//!
//! It knows the statements a client of ours sends: `CREATE EXTERNAL TABLE`, `DROP TABLE IF EXISTS`, and queries. What it is told it
//! keeps, so that a test can ask what was created and whether it was dropped.

use std::collections::BTreeMap;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::sync::mpsc;
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;

use arrow::datatypes::{DataType, Field, Schema};
use arrow::ipc::CompressionType;
use arrow::ipc::writer::IpcWriteOptions;
use arrow::record_batch::RecordBatch;
use arrow_flight::encode::FlightDataEncoderBuilder;
use arrow_flight::flight_service_server::{FlightService, FlightServiceServer};
use arrow_flight::sql::server::{FlightSqlService, PeekableFlightDataStream};
use arrow_flight::sql::{Any, CommandStatementQuery, CommandStatementUpdate, SqlInfo};
use arrow_flight::{
    FlightDescriptor, FlightEndpoint, FlightInfo, HandshakeRequest, HandshakeResponse, Ticket,
};
use boretally::query::cluster::contract::contract_schema;
use boretally::query::engine::{Engine, Rows};
use boretally::query::local::Local;
use futures::channel::oneshot;
use futures::{Stream, StreamExt, TryStreamExt};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use tonic::metadata::MetadataMap;
use tonic::transport::Server;
use tonic::transport::server::TcpIncoming;
use tonic::{Request, Response, Status, Streaming};

/// The token of everyone who is known.
pub const TOKEN: &str = "known";
/// `anna:secret` in base 64, as a handshake carries it.
const BASIC: &str = "Basic YW5uYTpzZWNyZXQ=";

/// How the server behaves.
#[derive(Debug, Clone, Copy, Default)]
pub struct Habit {
    /// Answers only those who bring the token.
    pub locked: bool,
    /// Gives each result in this many parts, at least one.
    pub parts: usize,
    /// Announces other columns than come.
    pub announces_wrongly: bool,
    /// Calls the columns of the second part otherwise than those of the first.
    pub contradicts_itself: bool,
    /// Compresses its batches with LZ4.
    pub compresses: bool,
    /// Fails with an error of its own after the first batch of this query, counted from 1.
    pub fails_in: Option<usize>,
    /// Goes away after the first batch of this query, counted from 1.
    pub dies_in: Option<usize>,
}

#[derive(Default)]
struct Session {
    engine: Local,
    told: Vec<String>,
    results: BTreeMap<String, Vec<RecordBatch>>,
    queries: usize,
    stop: Option<oneshot::Sender<()>>,
}

/// The running server.
pub struct Stub {
    /// Its address, as typed.
    pub address: String,
    session: Arc<Mutex<Session>>,
    thread: Option<JoinHandle<()>>,
}

impl Stub {
    /// Starts on a free port of this host, seeing the files of this host.
    pub fn start(habit: Habit) -> Self {
        Self::start_where(habit, None)
    }

    /// Starts on a free port of this host, seeing only buckets that are folders of this folder.
    pub fn start_on_buckets(habit: Habit, buckets: &Path) -> Self {
        Self::start_where(habit, Some(buckets.to_path_buf()))
    }

    fn start_where(habit: Habit, buckets: Option<PathBuf>) -> Self {
        let (stop, stopped) = oneshot::channel();
        let session = Arc::new(Mutex::new(Session {
            stop: Some(stop),
            ..Session::default()
        }));
        let service = FlightServiceServer::new(Service {
            habit,
            buckets,
            session: session.clone(),
        });
        let (ready, port) = mpsc::channel();
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread()
                .enable_all()
                .build()
                .unwrap();
            runtime.block_on(async {
                let incoming = TcpIncoming::bind("127.0.0.1:0".parse().unwrap()).unwrap();
                ready.send(incoming.local_addr().unwrap().port()).unwrap();
                let server = Server::builder()
                    .add_service(service)
                    .serve_with_incoming(incoming);
                // Dropping the server with its connections is how a killed one looks from outside.
                futures::future::select(Box::pin(server), stopped).await;
            });
        });
        Self {
            address: format!("flight-sql://127.0.0.1:{}", port.recv().unwrap()),
            session,
            thread: Some(thread),
        }
    }

    /// Everything it was told, in order.
    pub fn told(&self) -> Vec<String> {
        self.session.lock().unwrap().told.clone()
    }

    /// Names of external tables that were created and not dropped.
    pub fn left(&self) -> Vec<String> {
        let mut left: Vec<String> = Vec::new();
        for statement in self.told() {
            if let Some(rest) = statement.strip_prefix("CREATE EXTERNAL TABLE ") {
                left.push(rest.split(' ').next().unwrap().to_owned());
            } else if let Some(name) = statement.strip_prefix("DROP TABLE IF EXISTS ") {
                left.retain(|n| n != name);
            }
        }
        left
    }

    /// Ends it, as if its process were killed.
    pub fn stop(&mut self) {
        // The session may be half way through a panic of a test; then the thread ends with the process.
        if let Ok(mut session) = self.session.lock()
            && let Some(stop) = session.stop.take()
        {
            let _ = stop.send(());
        }
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

impl Drop for Stub {
    fn drop(&mut self) {
        self.stop();
    }
}

struct Service {
    habit: Habit,
    buckets: Option<PathBuf>,
    session: Arc<Mutex<Session>>,
}

impl Service {
    fn admit(&self, metadata: &MetadataMap) -> Result<(), Status> {
        let given = metadata.get("authorization").map(|v| v.as_bytes());
        if self.habit.locked && given != Some(format!("Bearer {TOKEN}").as_bytes()) {
            return Err(Status::unauthenticated("who is there?"));
        }
        Ok(())
    }

    fn create(&self, rest: &str) -> Result<(), Status> {
        let (name, place) = rest
            .split_once(" STORED AS PARQUET LOCATION ")
            .ok_or_else(|| Status::invalid_argument("not an external table"))?;
        let place = place.trim_matches('\'');
        let refuse =
            |e: &dyn std::fmt::Display| Status::internal(format!("No files found at {place}: {e}"));
        let path = match &self.buckets {
            None => place.strip_prefix("file://").map(PathBuf::from),
            Some(buckets) => place.strip_prefix("s3://").map(|key| buckets.join(key)),
        };
        let path = path.ok_or_else(|| refuse(&"no such scheme here"))?;
        let file = File::open(&path).map_err(|e| refuse(&e))?;
        let reader = ParquetRecordBatchReaderBuilder::try_new(file).map_err(|e| refuse(&e))?;
        let rows = Rows::Parquet {
            files: vec![path],
            schema: contract_schema(reader.schema()).map_err(|e| refuse(&e))?,
        };
        let mut session = self.session.lock().unwrap();
        session.engine.register(name, rows).map_err(|e| refuse(&e))
    }
}

type DoGet = <Service as FlightService>::DoGetStream;

#[tonic::async_trait]
impl FlightSqlService for Service {
    type FlightService = Service;

    async fn do_handshake(
        &self,
        request: Request<Streaming<HandshakeRequest>>,
    ) -> Result<
        Response<Pin<Box<dyn Stream<Item = Result<HandshakeResponse, Status>> + Send>>>,
        Status,
    > {
        let given = request.metadata().get("authorization");
        if given.map(|v| v.as_bytes()) != Some(BASIC.as_bytes()) {
            return Err(Status::unauthenticated("user and password do not fit"));
        }
        let answer = futures::stream::iter([Ok(HandshakeResponse::default())]);
        let mut response = Response::new(Box::pin(answer) as Pin<Box<_>>);
        let token = format!("Bearer {TOKEN}").parse().unwrap();
        response.metadata_mut().insert("authorization", token);
        Ok(response)
    }

    async fn get_flight_info_statement(
        &self,
        query: CommandStatementQuery,
        request: Request<FlightDescriptor>,
    ) -> Result<Response<FlightInfo>, Status> {
        self.admit(request.metadata())?;
        let mut session = self.session.lock().unwrap();
        session.told.push(query.query.clone());
        session.queries += 1;
        let rows = session.engine.query(&query.query);
        let rows =
            rows.map_err(|e| Status::invalid_argument(format!("failed to plan query: {e}")))?;
        let parts = self.habit.parts.max(1);
        let each = rows.num_rows().div_ceil(parts).max(1);
        let mut info = FlightInfo::new();
        for part in 0..parts {
            let from = (part * each).min(rows.num_rows());
            let mut rows = rows.slice(from, each.min(rows.num_rows() - from));
            if self.habit.contradicts_itself && part == 1 {
                rows = renamed(&rows);
            }
            let handle = format!("{}-{part}", session.queries);
            // A ticket is a protobuf `Any`; its type name, field 1, is all this one needs.
            let mut ticket = vec![0x0a, u8::try_from(handle.len()).unwrap()];
            ticket.extend(handle.bytes());
            info = info.with_endpoint(FlightEndpoint::new().with_ticket(Ticket::new(ticket)));
            // Two batches, so that something can happen between them.
            let half = rows.num_rows() / 2;
            let halves = vec![
                rows.slice(0, half),
                rows.slice(half, rows.num_rows() - half),
            ];
            session.results.insert(handle, halves);
        }
        let schema = match self.habit.announces_wrongly {
            true => Schema::new(vec![Field::new("other", DataType::Binary, false)]),
            false => rows.schema().as_ref().clone(),
        };
        let info = info.try_with_schema(&schema);
        Ok(Response::new(
            info.map_err(|e| Status::internal(e.to_string()))?,
        ))
    }

    async fn do_get_fallback(
        &self,
        request: Request<Ticket>,
        message: Any,
    ) -> Result<Response<DoGet>, Status> {
        self.admit(request.metadata())?;
        let (batches, stop) = {
            let mut session = self.session.lock().unwrap();
            let batches = session.results.remove(&message.type_url);
            let batches = batches.ok_or_else(|| Status::not_found("no such result"))?;
            let stop = match self.habit.dies_in {
                Some(query) if query == session.queries => session.stop.take(),
                _ => None,
            };
            (batches, stop)
        };
        let query = message
            .type_url
            .split('-')
            .next()
            .and_then(|q| q.parse().ok());
        let fails = self.habit.fails_in.is_some() && self.habit.fails_in == query;
        let compression = self.habit.compresses.then_some(CompressionType::LZ4_FRAME);
        let options = IpcWriteOptions::default()
            .try_with_compression(compression)
            .unwrap();
        let schema = batches[0].schema();
        let data = FlightDataEncoderBuilder::new()
            .with_options(options)
            .with_schema(schema)
            .build(futures::stream::iter(batches.into_iter().map(Ok)))
            .map_err(Status::from);
        // Schema and first batch.
        let (first, rest) = (2, data);
        let stream: DoGet = match (fails, stop) {
            (true, _) => {
                let lost = Status::internal("the executor with this part is gone");
                Box::pin(rest.take(first).chain(futures::stream::iter([Err(lost)])))
            }
            (false, Some(stop)) => {
                let end = futures::stream::once(async move {
                    let _ = stop.send(());
                    futures::future::pending().await
                });
                Box::pin(rest.take(first).chain(end))
            }
            (false, None) => Box::pin(rest),
        };
        Ok(Response::new(stream))
    }

    async fn do_put_statement_update(
        &self,
        update: CommandStatementUpdate,
        request: Request<PeekableFlightDataStream>,
    ) -> Result<i64, Status> {
        self.admit(request.metadata())?;
        self.session.lock().unwrap().told.push(update.query.clone());
        match update.query.strip_prefix("CREATE EXTERNAL TABLE ") {
            Some(rest) => self.create(rest)?,
            None if update.query.starts_with("DROP TABLE IF EXISTS ") => {}
            None => return Err(Status::unimplemented("no such command here")),
        }
        Ok(0)
    }

    async fn register_sql_info(&self, _id: i32, _result: &SqlInfo) {}
}

fn renamed(rows: &RecordBatch) -> RecordBatch {
    let schema = rows.schema();
    let fields = schema.fields().iter();
    let fields: Vec<Field> = fields
        .map(|f| f.as_ref().clone().with_name(format!("{}_too", f.name())))
        .collect();
    RecordBatch::try_new(Arc::new(Schema::new(fields)), rows.columns().to_vec()).unwrap()
}
