//! Parse, dispatch, exit code; nothing else.

use std::process::ExitCode;

use libmimalloc_sys::{mi_option_set, mi_option_t, mi_option_use_numa_nodes};

/// The queries free as much as they take, in all sizes and from several threads; the C library's allocator keeps most of it.
#[global_allocator]
static MEMORY: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// `mi_option_purge_delay` in mimalloc.h, in milliseconds; the bindings name only the option behind it.
const PURGE_DELAY: mi_option_t = 15;
const _: () = assert!(mi_option_use_numa_nodes - 1 == PURGE_DELAY);

/// How long freed memory is kept for the next statement. Given back sooner (1000 as it comes), the system clears the same pages again and
/// again: a tenth of the processor's time.
const KEPT: std::ffi::c_long = 10_000;

fn main() -> ExitCode {
    // SAFETY: it sets one number in a table of the allocator's, while no other thread is there yet.
    unsafe { mi_option_set(PURGE_DELAY, KEPT) };
    boretally::cli::main()
}
