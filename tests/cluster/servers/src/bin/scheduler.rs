//! Ballista's scheduler with its Flight SQL front end, as its own program starts it, and two things more. Where
//! `FLIGHT_SQL_AUTHORIZATION` is set, a handshake must carry exactly that header, and nobody gets in without one. Work is cut into few
//! parts, since all executors of the test share one host.

use std::error::Error;
use std::sync::Arc;

use ballista_core::object_store::{session_config_with_s3_support, session_state_with_s3_support};
use ballista_flight_sql::auth::{Authenticator, Identity};
use ballista_scheduler::cluster::BallistaCluster;
use ballista_scheduler::config::{Config, SchedulerConfig};
use ballista_scheduler::scheduler_process::start_server;
use clap::Parser;
use tonic::Status;
use tonic::metadata::MetadataMap;

/// Parts that the rows of a statement are cut into.
const PARTS: usize = 4;

/// Lets in who brings this header.
struct OneHeader(String);

#[async_trait::async_trait]
impl Authenticator for OneHeader {
    async fn authenticate(&self, headers: &MetadataMap) -> Result<Identity, Status> {
        let given = headers.get("authorization").map(|v| v.as_bytes());
        if given == Some(self.0.as_bytes()) {
            Ok(Identity::anonymous())
        } else {
            Err(Status::unauthenticated("user and password do not fit"))
        }
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    // Planning descends once for every step of a statement; the stock program takes as much.
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .thread_stack_size(32 << 20)
        .build()?;
    runtime.block_on(serve())
}

async fn serve() -> Result<(), Box<dyn Error>> {
    let options = Config::parse();
    tracing_subscriber::fmt()
        .with_ansi(false)
        .with_env_filter(options.log_level_setting.clone())
        .init();
    let address = format!("{}:{}", options.bind_host, options.bind_port).parse()?;
    let config: SchedulerConfig = options.try_into()?;
    let mut config = config
        .with_override_config_producer(Arc::new(|| {
            session_config_with_s3_support().with_target_partitions(PARTS)
        }))
        .with_override_session_builder(Arc::new(session_state_with_s3_support));
    if let Ok(header) = std::env::var("FLIGHT_SQL_AUTHORIZATION") {
        config = config.with_flight_sql_authenticator(Arc::new(OneHeader(header)));
    }
    let cluster = BallistaCluster::new_from_config(&config).await?;
    start_server(cluster, address, Arc::new(config)).await?;
    Ok(())
}
