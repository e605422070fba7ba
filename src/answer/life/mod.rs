//! From which distance on does it fail: the first failure of an engine, or the next since a repair, over distance.

pub mod ahead;
pub mod asking;
pub mod bound;
pub mod caveats;
pub mod compare;
pub mod compare_causes;
pub mod compared;
pub mod compute;
pub mod curve;
pub mod distances;
pub mod drawn;
pub mod fits;
pub mod group;
pub mod hazard;
pub mod incidence;
pub mod model;
pub mod of_family;
pub mod pooled;
pub mod reason;
pub mod sheet;
pub mod types;
pub mod verdict;

pub use asking::Asking;
pub use compute::Collector;
pub use model::Model;
pub use types::Life;
