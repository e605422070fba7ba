//! An answer as JSON: its struct under its contract name, which is documented, versioned and tested.

use std::io::{self, Write};

use serde::Serialize;

use crate::answer::sheet::Answer;
use crate::domain::problem::{Problem, Result};

/// The fields of an answer after the name of their contract.
#[derive(Serialize)]
struct Contracted<'a, A> {
    contract: &'static str,
    #[serde(flatten)]
    fields: &'a A,
}

/// Writes `{"contract": "...", ...fields}` with two spaces of indentation and one newline at the end, field by field: a large answer
/// takes no more memory than it has already.
///
/// # Errors
/// Those of `out`; none of its own.
pub fn write<A: Answer>(answer: &A, out: &mut dyn Write) -> io::Result<()> {
    let contracted = Contracted {
        contract: A::CONTRACT,
        fields: answer,
    };
    serde_json::to_writer_pretty(&mut *out, &contracted)?;
    out.write_all(b"\n")
}

/// The same as bytes, for an answer that is small.
pub fn render<A: Answer>(answer: &A) -> Result<Vec<u8>> {
    let mut bytes = Vec::new();
    write(answer, &mut bytes)
        .map_err(|e| Problem::data(format!("could not write the answer as JSON: {e}")))?;
    Ok(bytes)
}
