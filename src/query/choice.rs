//! Which engine answers: the embedded one, or the cluster at an address.

use super::cluster::bucket::place::OBJECT_STORE;
use super::cluster::bucket::{Access, Copies, Place};
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
        Some(address) => Box::new(cluster(address, store)?),
    };
    Logged::if_wanted(engine)
}

/// What is wrong with addresses and credentials is told before anybody is asked.
fn cluster(address: &str, store: &Store) -> Result<Cluster> {
    let address = Address::parse(address)?;
    let credentials = Credentials::read(&environment)?;
    let bucket = match environment(OBJECT_STORE)? {
        Some(place) => {
            let place = Place::parse(&place)?;
            let access = Access::read(&environment, &place)?;
            Some((place, access))
        }
        None => None,
    };
    let cluster = Cluster::connect(&address, &credentials, &store.history_folder())?;
    Ok(match bucket {
        Some((place, access)) => cluster.reading(Copies::open(&place, access, store.layout())?),
        None => cluster,
    })
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
