//! Parse, dispatch, exit code; nothing else.

use std::process::ExitCode;

/// The queries free as much as they take, in all sizes and from several threads; the C library's allocator keeps most of it.
#[global_allocator]
static MEMORY: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    boretally::cli::main()
}
