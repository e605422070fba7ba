//! Parse, dispatch, exit code; nothing else.

use std::process::ExitCode;

fn main() -> ExitCode {
    boretally::cli::main()
}
