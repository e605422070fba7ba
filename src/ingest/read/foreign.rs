//! A guard around libraries that decode binary formats: some of them panic over bytes that no program would write. Such a
//! panic means that the file is damaged, and is told so; it must neither end the program nor print a stack.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::path::Path;
use std::sync::Once;

use crate::domain::problem::{Problem, Result};

thread_local! {
    static GUARDED: Cell<bool> = const { Cell::new(false) };
}

static HOOK: Once = Once::new();

/// Runs `decode`; a panic inside becomes a problem of the file. What `decode` was changing must not be used afterwards.
pub(super) fn guard<T>(path: &Path, decode: impl FnOnce() -> Result<T>) -> Result<T> {
    HOOK.call_once(|| {
        let usual = take_hook();
        set_hook(Box::new(move |panic| {
            if !GUARDED.get() {
                usual(panic);
            }
        }));
    });
    let outer = GUARDED.replace(true);
    let outcome = catch_unwind(AssertUnwindSafe(decode));
    GUARDED.set(outer);
    outcome.unwrap_or_else(|_| {
        Err(Problem::data("the file's content contradicts itself")
            .file(path)
            .remedy("it was damaged on its way: copy or export it again"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_a_problem_and_a_result_passes() {
        let path = Path::new("e.parquet");
        let none: Option<u8> = std::hint::black_box(None);
        let problem = guard(path, || Ok(none.unwrap())).unwrap_err();
        assert!(problem.to_string().contains("e.parquet"), "{problem}");
        assert_eq!(guard(path, || Ok(7)), Ok(7));
        assert!(!GUARDED.get());
    }
}
