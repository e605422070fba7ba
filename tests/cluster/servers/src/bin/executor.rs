//! Ballista's executor, as its own program starts it.

use std::error::Error;
use std::sync::Arc;

use ballista_core::object_store::{runtime_env_with_s3_support, session_config_with_s3_support};
use ballista_executor::config::Config;
use ballista_executor::executor_process::{ExecutorProcessConfig, start_executor_process};
use clap::Parser;

#[tokio::main]
async fn main() -> Result<(), Box<dyn Error>> {
    let mut config: ExecutorProcessConfig = Config::parse().try_into()?;
    config.override_config_producer = Some(Arc::new(session_config_with_s3_support));
    config.override_runtime_producer = Some(Arc::new(runtime_env_with_s3_support));
    tracing_subscriber::fmt()
        .with_ansi(false)
        .with_env_filter(config.special_mod_log_level.clone())
        .init();
    start_executor_process(Arc::new(config)).await?;
    Ok(())
}
