//! `store`: make a store, see what is in it, check it, repair what could not be used, compact it. One file an action.

pub mod command;
pub mod compact;
pub mod init;
pub mod list;
pub mod quarantine;
pub mod verify;

pub use command::StoreCommand;
