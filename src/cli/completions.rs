//! `completions`: prints the completion script of a shell, made from the registry.

use clap::Args;
use clap_complete::Shell;

use super::command::{Outcome, Subcommand};
use super::{output, registry};
use crate::domain::problem::Result;

/// Arguments of `completions`.
#[derive(Debug, Args)]
pub struct Completions {
    /// The shell to complete for
    shell: Shell,
}

impl Subcommand for Completions {
    const NAME: &'static str = "completions";
    const ABOUT: &'static str = "Print a completion script for a shell";
    const EXAMPLE: &'static str = "Example:\n  boretally completions bash > ~/.local/share/bash-completion/completions/boretally";

    fn run(self) -> Result<Outcome> {
        let mut script = Vec::new();
        clap_complete::generate(
            self.shell,
            &mut registry::definition(),
            "boretally",
            &mut script,
        );
        output::print(&script)?;
        Ok(Outcome::Done)
    }
}
