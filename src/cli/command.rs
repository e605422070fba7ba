//! What a command is: its name, its arguments, and what it does.

use clap::{ArgMatches, Args, Command, FromArgMatches};

use crate::domain::problem::{Problem, Result};

/// How a command that did not fail outright ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Everything was done (exit code 0).
    Done,
    /// It ran, and reports that the data or a check failed (exit code 1).
    CheckFailed,
}

/// A command: a clap `Args` struct with a name and a body.
pub trait Subcommand: Args + FromArgMatches {
    /// The word typed after `boretally`.
    const NAME: &'static str;
    /// One line for the list of commands.
    const ABOUT: &'static str;
    /// Shown at the end of `--help`: a worked example with what it prints.
    const EXAMPLE: &'static str;

    /// Does it.
    fn run(self) -> Result<Outcome>;
}

/// A command as the registry holds it.
pub struct Entry {
    /// The word typed after `boretally`.
    pub name: &'static str,
    /// Its clap definition.
    pub define: fn() -> Command,
    /// Runs it from parsed arguments.
    pub run: fn(&ArgMatches) -> Result<Outcome>,
}

/// The registry entry of a command type.
pub const fn entry<S: Subcommand>() -> Entry {
    Entry {
        name: S::NAME,
        define: define::<S>,
        run: run::<S>,
    }
}

fn define<S: Subcommand>() -> Command {
    S::augment_args(Command::new(S::NAME))
        .about(S::ABOUT)
        .after_help(S::EXAMPLE)
}

fn run<S: Subcommand>(matches: &ArgMatches) -> Result<Outcome> {
    let arguments = S::from_arg_matches(matches).map_err(|e| Problem::usage(e.to_string()))?;
    arguments.run()
}
