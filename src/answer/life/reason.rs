//! Why something is not known, in the reader's unit.

use crate::answer::words;
use crate::domain::distance::DistanceUnit;
use crate::stats::survival::Unidentified;

/// A reason from the statistics, whose distances are metres.
pub fn words(reason: &Unidentified, unit: DistanceUnit) -> String {
    let at = |metres: f64| words::distance(metres, unit);
    match *reason {
        Unidentified::BeforeFirstEntry { first_entry } => {
            format!("nobody was watched before {}", at(first_entry))
        }
        Unidentified::BeyondLastExit { last_exit } => {
            format!("nobody was watched beyond {}", at(last_exit))
        }
        Unidentified::RiskSetEmpty { from, to } => format!(
            "nobody was at risk between {} and {}, so what follows is unknown",
            at(from),
            at(to)
        ),
        Unidentified::RiskSetExhausted { at: end, later } => format!(
            "all that were at risk had failed at {}, and {later} more came under observation later: ask for --from-distance",
            at(end)
        ),
        Unidentified::NoFailureYet => "nothing had failed up to there".to_string(),
        Unidentified::AllFailed => "all had failed".to_string(),
        Unidentified::NotReached {
            survival,
            last_exit,
            ..
        } => format!(
            "{} had not failed at the end of observation, {}",
            words::share(survival),
            at(last_exit)
        ),
    }
}
