//! `life`: from which distance on does it fail.

mod command;
mod gather;

pub use command::LifeArgs;
pub use gather::by_family;
