//! The total of a random number of random amounts: how many repairs, how many days, how much money.
//!
//! The number of events is a sum of independent parts (units that fail at most once, Poisson counts, negative binomial
//! counts, units that may fail again). Each part is known by its generating function G(s) = E[s^N]; the total of amounts with
//! characteristic function f has the characteristic function G(f), so that one discrete Fourier transform gives every
//! probability to rounding (Panjer & Willmot 1992, Insurance Risk Models, chapters 4 and 6; for the sum of unlike Bernoulli
//! variables Hong 2013, Comput Stat Data Anal 59:41). A count is the total whose amounts are all 1.

pub mod complex;
pub mod distribution;
mod fourier;
pub mod moments;
pub mod part;
pub mod recurring;
pub mod total;

pub use complex::Complex;
pub use distribution::Distribution;
pub use moments::Moments;
pub use part::Part;
pub use recurring::{LogSeries, Recurring};
pub use total::{Amounts, Counter, count, total};
