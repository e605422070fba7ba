//! The rules a record can fall foul of: reasons (a value or record could not be used and went to quarantine) and flags
//! (a rule touched the row, which was kept). Each is listed once, with its meaning and the way out.

pub mod flag;
pub mod reason;

pub use flag::Flag;
pub use reason::{Reason, Rejection};
