//! What the data cannot say, as a value with its reason: an estimate that does not exist is never shown as a number.

/// Why a figure is not identified by the lives observed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Unidentified {
    /// Nobody was watched up to this distance.
    #[error("nothing was observed before the first entry at {first_entry}")]
    BeforeFirstEntry {
        /// Distance of the first entry.
        first_entry: f64,
    },
    /// Everybody had left earlier while some lives still ran.
    #[error("nothing was observed beyond the last exit at {last_exit}")]
    BeyondLastExit {
        /// Distance of the last exit.
        last_exit: f64,
    },
    /// A stretch in which nobody was at risk lies before the distance asked for.
    #[error(
        "nobody was at risk between {from} and {to}, so that survival past this stretch is unknown"
    )]
    RiskSetEmpty {
        /// Start of the stretch.
        from: f64,
        /// Its end, where the next life enters.
        to: f64,
    },
    /// All lives at risk failed at once, which fixes the estimate at 0 although others enter later.
    #[error(
        "all lives at risk failed at {at}, and {later} more entered afterwards: condition on survival to a larger distance"
    )]
    RiskSetExhausted {
        /// Where the risk set failed as a whole.
        at: f64,
        /// Lives that entered afterwards.
        later: u64,
    },
    /// No failure so far: the variance formula says 0, which is not certainty.
    #[error("no failure up to this distance: the variance is not estimable")]
    NoFailureYet,
    /// The estimate is 0: variance formulas on logarithms have no value.
    #[error("all lives at risk have failed: limits are not defined")]
    AllFailed,
    /// The curve never falls as far as the quantile asked for.
    #[error(
        "the share {share} failed is not reached: survival ends at {survival} at distance {last_exit}"
    )]
    NotReached {
        /// The failed share asked for.
        share: f64,
        /// Survival at the end of observation.
        survival: f64,
        /// The end of observation.
        last_exit: f64,
    },
}
