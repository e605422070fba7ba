//! What a server or the way to it said, as a problem that names what failed and what to do.

use std::error::Error;

use arrow_flight::error::FlightError;
use tonic::{Code, Status};

use super::address::{Address, PASSWORD, TOKEN, USER};
use crate::domain::problem::Problem;

/// Characters of a server's own words that are shown; plans of failed statements can run to pages.
const LONGEST: usize = 600;

/// A problem of talking to the server at `address`; `doing` completes "could not ...".
pub fn flight(address: &Address, doing: &str, error: &FlightError) -> Problem {
    match error {
        FlightError::Tonic(status) => of_status(address, doing, status),
        other => Problem::data(format!("could not {doing}: {}", chain(other)))
            .field("--engine")
            .value(address.to_string())
            .remedy("check that an Arrow Flight SQL server of a fitting version answers there"),
    }
}

/// No connection at all.
pub fn unreachable(address: &Address, error: &(dyn Error + 'static)) -> Problem {
    let mut remedy = String::from(
        "check host and port, and that the scheduler runs with its Flight SQL front end",
    );
    if address.tls() {
        remedy.push_str("; a server without TLS has an address that begins with flight-sql://");
    }
    Problem::data(format!("no Flight SQL server answers: {}", chain(error)))
        .field("--engine")
        .value(address.to_string())
        .remedy(remedy)
}

/// A handshake that the server did not accept.
pub fn refused(address: &Address, said: &str) -> Problem {
    Problem::data(format!(
        "the cluster refused the credentials: {}",
        short(said)
    ))
    .field("--engine")
    .value(address.to_string())
    .remedy(format!(
        "set {USER} and {PASSWORD}, or {TOKEN}, to what the cluster knows"
    ))
}

/// The connection broke; what a server answers is told apart by having no cause on our side.
pub fn is_lost(error: &FlightError) -> bool {
    match error {
        FlightError::Tonic(status) => {
            status.code() == Code::Unavailable || status.source().is_some()
        }
        _ => false,
    }
}

fn of_status(address: &Address, doing: &str, status: &Status) -> Problem {
    let said = short(status.message());
    let problem = match status.code() {
        Code::Unauthenticated | Code::PermissionDenied => return refused(address, status.message()),
        _ if status.code() == Code::Unavailable || status.source().is_some() => {
            let cause = status.source().map_or(said, chain);
            Problem::data(format!("lost the connection while it was to {doing}: {cause}"))
                .remedy("see whether the scheduler still runs, then run this again; nothing was written")
        }
        Code::Unimplemented => {
            Problem::data(format!("the cluster does not know how to {doing}: {said}"))
                .remedy("start the scheduler with its Flight SQL front end (--flight-sql)")
        }
        _ => Problem::data(format!("the cluster could not {doing}: {said}"))
            .remedy("nothing was written; run this again if an executor went away, their logs and the scheduler's say more; all must see the store under the same path or, with BORETALLY_OBJECT_STORE, have the variables AWS_... that this program has"),
    };
    problem.field("--engine").value(address.to_string())
}

/// An error with its causes, each told once.
pub fn chain(error: &(dyn Error + 'static)) -> String {
    let mut told = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        let text = error.to_string();
        if !told.contains(&text) {
            told.push_str(": ");
            told.push_str(&text);
        }
        cause = error.source();
    }
    short(&told)
}

/// One line, and not a long one.
pub fn short(text: &str) -> String {
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    match line.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{} ...", line.get(..end).unwrap_or(&line)),
        None => line,
    }
}
