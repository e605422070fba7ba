//! Engine families: what an engine is, and which engine texts of an export mean it.

mod engine;
mod file;
mod lookup;

pub use engine::{EngineFamily, Layout, MatchRule};
pub use lookup::{Families, Match};
