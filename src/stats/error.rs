//! What a statistical function refuses, in words that name the parameter.

/// Why a statistic could not be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// A confidence level outside (0, 1).
    #[error("confidence level {0}: must lie strictly between 0 and 1")]
    Level(f64),
    /// More successes than trials, or no trials at all.
    #[error(
        "{successes} of {trials}: a proportion needs at least one trial and no more successes than trials"
    )]
    Proportion {
        /// Successes given.
        successes: u64,
        /// Trials given.
        trials: u64,
    },
    /// Any other parameter outside its range.
    #[error("{name} = {value}: {requirement}")]
    Parameter {
        /// The parameter's name as the function calls it.
        name: &'static str,
        /// The value given.
        value: f64,
        /// What the value must fulfil.
        requirement: &'static str,
    },
    /// A list that must not be empty, or lists that must be of equal length.
    #[error("{name}: {requirement}")]
    Input {
        /// The input's name as the function calls it.
        name: &'static str,
        /// What it must fulfil.
        requirement: &'static str,
    },
    /// An iteration that reached its bound.
    #[error("{what} did not settle within {iterations} iterations")]
    NotConverged {
        /// What was being computed.
        what: &'static str,
        /// The bound.
        iterations: usize,
    },
}
