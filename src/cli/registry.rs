//! The list of commands, and the way from the command line to an exit code.

use std::io::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;

use clap::{ArgMatches, Command};

use super::budget::BudgetArgs;
use super::command::{Entry, Outcome, entry};
use super::compare::CompareArgs;
use super::completions::Completions;
use super::cylinders::CylindersArgs;
use super::demo::Demo;
use super::ingest::Ingest;
use super::interval::Interval;
use super::life::LifeArgs;
use super::rates::RatesArgs;
use super::readings::ReadingsArgs;
use super::repeats::RepeatsArgs;
use super::report::ReportArgs;
use super::shares::SharesArgs;
use super::store::StoreCommand;
use super::synth::Synth;
use super::test_order::TestOrderArgs;
use crate::domain::problem::{Kind, Problem, Result};

/// Every command, in the order help shows them.
pub const COMMANDS: &[Entry] = &[
    entry::<Ingest>(),
    entry::<StoreCommand>(),
    entry::<RatesArgs>(),
    entry::<SharesArgs>(),
    entry::<CylindersArgs>(),
    entry::<LifeArgs>(),
    entry::<RepeatsArgs>(),
    entry::<ReadingsArgs>(),
    entry::<CompareArgs>(),
    entry::<BudgetArgs>(),
    entry::<TestOrderArgs>(),
    entry::<Interval>(),
    entry::<ReportArgs>(),
    entry::<Synth>(),
    entry::<Demo>(),
    entry::<Completions>(),
];

/// The whole command line as clap sees it.
pub fn definition() -> Command {
    Command::new("boretally")
        .version(env!("CARGO_PKG_VERSION"))
        .about(env!("CARGO_PKG_DESCRIPTION"))
        .after_help(
            "Statistics suggest an order of tests; they do not diagnose the vehicle in the bay. \
             The vehicle maker's information, local codes and licensed practice come first.",
        )
        .subcommand_required(true)
        .arg_required_else_help(true)
        .subcommands(COMMANDS.iter().map(|c| (c.define)()))
}

/// Parses the process's arguments, runs the command, tells problems on stderr, gives the exit code.
pub fn main() -> ExitCode {
    let matches = definition().get_matches();
    let Some((name, arguments)) = matches.subcommand() else {
        return ExitCode::from(2);
    };
    let Some(command) = COMMANDS.iter().find(|c| c.name == name) else {
        return ExitCode::from(2);
    };
    match carried_out(command.run, arguments) {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::CheckFailed) => ExitCode::from(1),
        Err(problem) => {
            tell(&problem);
            ExitCode::from(match problem.kind() {
                Kind::Data => 1,
                Kind::Usage => 2,
            })
        }
    }
}

/// Runs a command; what stops inside it is told as a mistake of this program, with the way out.
fn carried_out(run: fn(&ArgMatches) -> Result<Outcome>, arguments: &ArgMatches) -> Result<Outcome> {
    // What the command worked on is gone with it: nobody sees it half changed.
    catch_unwind(AssertUnwindSafe(|| run(arguments)))
        .unwrap_or_else(|payload| Err(Problem::stopped_inside("the command", payload.as_ref())))
}

/// A closed stderr must not turn a told problem into a panic, so a failed write is let go: there is nobody left to tell.
fn tell(problem: &Problem) {
    let _ = writeln!(std::io::stderr(), "boretally: {problem}");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mistake_of_the_program_is_a_problem_like_any_other() {
        let nothing = definition().try_get_matches_from(["boretally", "demo"]);
        let problem = carried_out(|_| panic!("no such cylinder"), &nothing.unwrap()).unwrap_err();
        assert!(problem.kind() == Kind::Data);
        let text = problem.to_string();
        assert!(
            text.contains("no such cylinder") && text.contains("report it"),
            "{text}"
        );
    }

    #[test]
    fn clap_accepts_every_definition_and_every_command_shows_an_example() {
        definition().debug_assert();
        for command in COMMANDS {
            let help = (command.define)().render_long_help().to_string();
            assert!(
                help.contains("boretally "),
                "{} has no worked example in its help",
                command.name
            );
        }
    }
}
