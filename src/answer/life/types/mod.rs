//! The structs of the answer `life` gives, which are the JSON contract `boretally.life/1`.

pub mod answer;
pub mod comparison;
pub mod curve;
pub mod few;
pub mod fitted;
pub mod group;

pub use answer::{Life, LifeRule};
pub use comparison::{CauseComparison, ComparedGroup, Comparison};
pub use curve::{
    CauseIncidence, CurveStep, HazardBand, IncidenceStep, MeanDistance, Milestone, SimultaneousBand,
};
pub use few::{Bound, PooledShape, StatedShape};
pub use fitted::{Ahead, AheadByFit, FitParameter, Goodness, LifeFit, ShareFailed, Unfitted};
pub use group::{Drawn, GroupLife, Status, WeibullPaper};
