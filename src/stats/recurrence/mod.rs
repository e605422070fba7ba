//! Repairs that happen again and again to one vehicle: their mean number over distance, and whether they come faster.

pub mod difference;
pub mod history;
pub mod log_linear;
pub mod mean_cumulative_function;
pub mod power_law;
pub mod recurrence_table;
pub mod robust_variance;
pub mod trend;
pub mod unbiased_variance;

pub use difference::{Difference, MeanAt, difference};
pub use history::History;
pub use log_linear::{LogLinear, log_linear};
pub use mean_cumulative_function::{MeanCumulativeFunction, MeanStep};
pub use power_law::{PowerLaw, power_law};
pub use recurrence_table::{RecurrenceRow, RecurrenceTable};
pub use robust_variance::RobustVariance;
pub use trend::{TrendTest, Truncation, laplace, mil_hdbk_189};
pub use unbiased_variance::unbiased_variance;
