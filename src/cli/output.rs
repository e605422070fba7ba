//! The only place that writes to standard output, and the options that say where an answer goes and in which form.

use std::io::{self, BufWriter, ErrorKind, IsTerminal, Write};
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
            Format::Table => render::table::render(&answer.sheet(), self.width()).into_bytes(),
            Format::Json => return self.stream(|out| render::json::write(answer, out)),
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
        self.stream(|out| out.write_all(&bytes))
    }

    /// How wide the terminal is, if the answer goes to one.
    fn width(&self) -> Option<u16> {
        self.out.is_none().then(terminal_width).flatten()
    }

    /// Writes what `fill` gives, piece by piece, to the file or to standard output.
    fn stream(&self, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
        match &self.out {
            Some(file) => render::file::stream(file, fill),
            None => print_all(fill),
        }
    }
}

/// How wide the terminal behind standard output is; nothing where that is a file or a pipe.
pub fn terminal_width() -> Option<u16> {
    let out = io::stdout();
    let size = out
        .is_terminal()
        .then(|| terminal_size::terminal_size_of(&out));
    size.flatten().map(|(width, _)| width.0)
}

/// Writes to standard output.
pub fn print(bytes: &[u8]) -> Result<()> {
    print_all(|out| out.write_all(bytes))
}

/// A reader that has gone away (`| head`) is not an error.
fn print_all(fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
    let mut out = BufWriter::new(std::io::stdout().lock());
    match fill(&mut out).and_then(|()| out.flush()) {
        Err(e) if e.kind() != ErrorKind::BrokenPipe => Err(Problem::data(format!(
            "could not write to standard output: {e}"
        ))),
        _ => Ok(()),
    }
}
