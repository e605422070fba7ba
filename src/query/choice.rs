//! Which engine answers: the embedded one, or the cluster at an address.

use super::cluster::{Address, Cluster, Credentials};
use super::engine::Engine;
use super::local::Local;
use super::logged::Logged;
use crate::domain::problem::{Problem, Result};
use crate::store::Store;

/// Address of the engine where the command line gives none.
pub const ENGINE: &str = "BORETALLY_ENGINE";

/// Word for the engine inside this process.
const EMBEDDED: &str = "embedded";

/// Opens the engine that was typed, else the one that the environment names, else the embedded one.
pub fn open(typed: Option<&str>, store: &Store) -> Result<Box<dyn Engine>> {
    let named = match typed {
        Some(address) => Some(address.to_owned()),
        None => environment(ENGINE)?,
    };
    let engine: Box<dyn Engine> = match named.as_deref() {
        None | Some(EMBEDDED) => Box::new(Local::new()),
        Some(address) => {
            let address = Address::parse(address)?;
            let credentials = Credentials::read(&environment)?;
            let history = store.history_folder();
            Box::new(Cluster::connect(&address, &credentials, &history)?)
        }
    };
    Logged::if_wanted(engine)
}

/// A variable of the environment; one that is set to nothing counts as unset.
fn environment(name: &str) -> Result<Option<String>> {
    match std::env::var(name) {
        Ok(value) => Ok(Some(value).filter(|v| !v.is_empty())),
        Err(std::env::VarError::NotPresent) => Ok(None),
        Err(std::env::VarError::NotUnicode(_)) => Err(Problem::usage(
            "this variable of the environment is not text",
        )
        .field(name)
        .remedy("set it to text, or unset it")),
    }
}
