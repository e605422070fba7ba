//! Confidence intervals for a Poisson rate, a count of events over an exposure: one file a method, all in [`METHODS`].
//!
//! Every method puts limits on the expected count and divides them by the exposure, whose unit is the caller's: 3 events in
//! 1.2e6 km give limits per km. Exposure must be positive and finite. A count of 0 has lower limit exactly 0 (Jeffreys' is
//! small but positive). Limits are right to 1e-12 relative up to counts of 1e9 (measured: 1e-14).

pub mod byar;
pub mod exposure;
pub mod garwood;
pub mod jeffreys;
pub mod methods;
pub mod mid_p;
pub mod score;

pub use byar::byar;
pub use exposure::Observed;
pub use garwood::garwood;
pub use jeffreys::jeffreys;
pub use methods::{METHODS, Method};
pub use mid_p::mid_p;
pub use score::score;
