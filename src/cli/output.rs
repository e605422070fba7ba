//! The only place that writes to standard output, and the options that say where an answer goes and in which form.

use std::io::{ErrorKind, Write};
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::answer::sheet::Answer;
use crate::domain::problem::{Problem, Result};
use crate::report::render;

/// The forms an answer can be printed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people, on a terminal
    Table,
    /// The documented contract
    Json,
    /// The main table, full precision
    Csv,
    /// For notes and pull requests
    Markdown,
    /// The main table as Parquet (needs --out)
    Parquet,
}

/// Where an answer goes.
#[derive(Debug, Args)]
pub struct OutputArgs {
    /// How to print the answer
    #[arg(long, value_enum, default_value_t = Format::Table, help_heading = "Output")]
    pub format: Format,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    pub out: Option<PathBuf>,
}

impl OutputArgs {
    /// Renders an answer and writes it where it was asked for.
    pub fn emit<A: Answer>(&self, answer: &A) -> Result<()> {
        let bytes = match self.format {
            Format::Table => render::table::render(&answer.sheet()).into_bytes(),
            Format::Json => render::json::render(answer)?,
            Format::Csv => render::csv::render(&answer.sheet())?,
            Format::Markdown => render::markdown::render(&answer.sheet()).into_bytes(),
            Format::Parquet => {
                if self.out.is_none() {
                    return Err(
                        Problem::usage("Parquet is not text and cannot go to a terminal")
                            .field("--format")
                            .value("parquet")
                            .remedy("add --out FILE.parquet"),
                    );
                }
                render::parquet::render(&answer.sheet())?
            }
        };
        match &self.out {
            Some(file) => render::file::write(file, &bytes),
            None => print(&bytes),
        }
    }
}

/// Writes to standard output; a reader that has gone away (`| head`) is not an error.
pub fn print(bytes: &[u8]) -> Result<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(e) if e.kind() != ErrorKind::BrokenPipe => Err(Problem::data(format!(
            "could not write to standard output: {e}"
        ))),
        _ => Ok(()),
    }
}
