//! Survival over distance without a shape assumed: from counts of lives entering, leaving and failing at each distance.

pub mod bands;
pub mod confidence;
pub mod kaplan_meier;
pub mod log_rank;
pub mod nelson_aalen;
mod ornstein_uhlenbeck;
pub mod quantile;
pub mod restricted_mean;
pub mod risk_table;
pub mod unidentified;

pub use bands::{Band, equal_precision};
pub use confidence::Transformation;
pub use kaplan_meier::KaplanMeier;
pub use log_rank::{LogRank, Weight, log_rank};
pub use nelson_aalen::NelsonAalen;
pub use quantile::{Quantile, quantile};
pub use restricted_mean::{RestrictedMean, restricted_mean};
pub use risk_table::{Life, RiskRow, RiskTable, Tabulated};
pub use unidentified::Unidentified;
