//! The connection to a Flight SQL server: commands without rows, and statements whose rows come stream by stream.

use std::collections::VecDeque;
use std::time::Duration;

use arrow::datatypes::SchemaRef;
use arrow::record_batch::RecordBatch;
use arrow_flight::decode::FlightRecordBatchStream;
use arrow_flight::error::FlightError;
use arrow_flight::flight_service_client::FlightServiceClient;
use arrow_flight::sql::client::FlightSqlServiceClient;
use arrow_flight::{FlightEndpoint, FlightInfo};
use futures::TryStreamExt;
use tokio::runtime::{Builder, Runtime};
use tonic::transport::{Certificate, Channel, ClientTlsConfig, Endpoint};

use super::address::{AUTHORITIES, Address, Credentials, Login};
use super::contract::{contract_schema, to_contract};
use super::fault;
use crate::domain::problem::{AtFile, Problem, Result};

/// How long a host may take to answer at all.
const CONNECT: Duration = Duration::from_secs(10);
/// A server that is silent this long is asked whether it is still there, and given as long again to answer. A statement may take
/// any time: what is asked is the host, not the query.
const KEEP_ALIVE: Duration = Duration::from_secs(20);
/// Largest message taken: a batch of rows as the executors wrote it.
const LARGEST_MESSAGE: usize = 256 << 20;
/// Bytes on their way at once.
const WINDOW: u32 = 4 << 20;

/// An open connection.
pub struct Server {
    address: Address,
    runtime: Runtime,
    client: FlightSqlServiceClient<Channel>,
}

impl Server {
    /// Connects, and makes itself known.
    pub fn connect(address: &Address, credentials: &Credentials) -> Result<Self> {
        let runtime = Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(|e| Problem::data(format!("could not prepare to talk to a cluster: {e}")))?;
        let endpoint = endpoint(address, credentials)?;
        let channel = runtime
            .block_on(endpoint.connect())
            .map_err(|e| fault::unreachable(address, &e))?;
        let inner = FlightServiceClient::new(channel).max_decoding_message_size(LARGEST_MESSAGE);
        let mut client = FlightSqlServiceClient::new_from_inner(inner);
        match &credentials.login {
            Login::None => {}
            Login::Token(token) => client.set_token(token.clone()),
            Login::Password { user, password } => {
                runtime
                    .block_on(client.handshake(user, password))
                    .map_err(|e| fault::refused(address, &e.to_string()))?;
            }
        }
        Ok(Self {
            address: address.clone(),
            runtime,
            client,
        })
    }

    /// Runs a statement that has no rows; `doing` completes "could not ...".
    pub fn command(&mut self, sql: &str, doing: &str) -> Result<()> {
        let done = self.client.execute_update(sql.to_owned(), None);
        match self.runtime.block_on(done) {
            Ok(_) => Ok(()),
            Err(e) => Err(fault::flight(&self.address, doing, &e)),
        }
    }

    /// Runs commands whose failing changes nothing, such as dropping what is no longer needed, for at most `time` in all.
    pub fn try_commands(&mut self, statements: Vec<String>, time: Duration) {
        let client = &mut self.client;
        self.runtime.block_on(async {
            let all = async {
                for sql in statements {
                    let told = client.execute_update(sql, None).await;
                    if told.is_err_and(|e| fault::is_lost(&e)) {
                        // Nobody is there to be told the others.
                        return;
                    }
                }
            };
            // A server that does not answer in time keeps the tables until its session ends.
            let _ = tokio::time::timeout(time, all).await;
        });
    }

    /// Runs a statement and gives its rows, part by part.
    pub fn rows(&mut self, sql: String) -> Result<Rows<'_>> {
        let info = self.runtime.block_on(self.client.execute(sql, None));
        let info = info.map_err(|e| fault::flight(&self.address, "run the statement", &e))?;
        let endpoints = info.endpoint.clone().into();
        Ok(Rows {
            server: self,
            info,
            endpoints,
            stream: None,
            schema: None,
        })
    }
}

fn endpoint(address: &Address, credentials: &Credentials) -> Result<Endpoint> {
    let unusable = |e: tonic::transport::Error| fault::unreachable(address, &e);
    let endpoint = Endpoint::from_shared(address.uri())
        .map_err(unusable)?
        .user_agent(concat!("boretally/", env!("CARGO_PKG_VERSION")))
        .map_err(unusable)?
        .connect_timeout(CONNECT)
        .http2_keep_alive_interval(KEEP_ALIVE)
        .keep_alive_timeout(KEEP_ALIVE)
        .initial_stream_window_size(WINDOW)
        .initial_connection_window_size(WINDOW);
    match (address.tls(), &credentials.authorities) {
        (false, None) => Ok(endpoint),
        (false, Some(file)) => Err(Problem::usage(
            "authorities to trust are given, but the way to the cluster is not encrypted",
        )
        .field(AUTHORITIES)
        .value(file.display().to_string())
        .remedy(format!(
            "write flight-sqls:// for TLS, or unset {AUTHORITIES}"
        ))),
        (true, file) => {
            let trust = match file {
                None => ClientTlsConfig::new().with_enabled_roots(),
                Some(file) => {
                    let pem = std::fs::read(file)
                        .at_file("read the authorities to trust", file)
                        .map_err(|p| p.field(AUTHORITIES))?;
                    ClientTlsConfig::new().ca_certificate(Certificate::from_pem(pem))
                }
            };
            endpoint.tls_config(trust).map_err(unusable)
        }
    }
}

/// The rows of a statement as they come: every endpoint's stream after the other, cast into our five widths.
pub struct Rows<'a> {
    server: &'a mut Server,
    info: FlightInfo,
    endpoints: VecDeque<FlightEndpoint>,
    stream: Option<FlightRecordBatchStream>,
    schema: Option<SchemaRef>,
}

impl Rows<'_> {
    /// The next rows; none when all have come.
    pub fn read(&mut self) -> Result<Option<RecordBatch>> {
        loop {
            if let Some(stream) = &mut self.stream {
                let next = self.server.runtime.block_on(stream.try_next());
                let next = next.map_err(|e| self.fault(&e))?;
                // Each stream tells its own schema; that of the announcement is not always what comes.
                let schema = self.stream.as_ref().and_then(|s| s.schema().cloned());
                if let Some(schema) = schema {
                    self.agree(contract_schema(&schema)?)?;
                }
                match (next, &self.schema) {
                    (Some(batch), Some(schema)) => return to_contract(&batch, schema).map(Some),
                    _ => self.stream = None,
                }
            }
            let Some(endpoint) = self.endpoints.pop_front() else {
                return Ok(None);
            };
            // An endpoint's locations are other ways to the same rows; the server that announced them has them too.
            let ticket = endpoint.ticket.ok_or_else(|| {
                self.fault(&FlightError::protocol("a part of the result has no ticket"))
            })?;
            let stream = self
                .server
                .runtime
                .block_on(self.server.client.do_get(ticket));
            self.stream = Some(stream.map_err(|e| self.fault(&e))?);
        }
    }

    /// The columns: as the streams had them, or as announced where there was no stream.
    pub fn schema(&self) -> Result<SchemaRef> {
        match &self.schema {
            Some(schema) => Ok(schema.clone()),
            None => {
                let announced = self.info.clone().try_decode_schema();
                let announced = announced.map_err(|e| self.fault(&e.into()))?;
                contract_schema(&announced)
            }
        }
    }

    fn agree(&mut self, schema: SchemaRef) -> Result<()> {
        match &self.schema {
            None => self.schema = Some(schema),
            Some(first) if *first == schema => {}
            Some(_) => {
                let what = "parts of the result have different columns";
                return Err(self.fault(&FlightError::protocol(what)));
            }
        }
        Ok(())
    }

    fn fault(&self, error: &FlightError) -> Problem {
        fault::flight(&self.server.address, "fetch the result", error)
    }
}
