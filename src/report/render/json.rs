//! An answer as JSON: its struct under its contract name, which is documented, versioned and tested.

use std::io::{self, Write};
use std::panic::resume_unwind;
use std::sync::mpsc::{SyncSender, sync_channel};

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

/// Bytes made before they are handed over to be written.
const PIECE: usize = 1 << 20;

/// Pieces that may wait to be written.
const WAITING: usize = 4;

/// Writes `{"contract": "...", ...fields}` with two spaces of indentation and one newline at the end, piece by piece: a large answer
/// takes no more memory than it has already. One thread makes the pieces, another writes them.
///
/// # Errors
/// Those of `out`; none of its own.
pub fn write<A: Answer>(answer: &A, out: &mut dyn Write) -> io::Result<()> {
    let (sender, receiver) = sync_channel(WAITING);
    std::thread::scope(|scope| {
        let making = std::thread::Builder::new().spawn_scoped(scope, || {
            let mut pieces = Pieces {
                piece: Vec::with_capacity(PIECE),
                sender,
            };
            make(answer, &mut pieces).and_then(|()| pieces.flush())
        })?;
        for piece in receiver {
            out.write_all(&piece)?;
        }
        making.join().unwrap_or_else(|panic| resume_unwind(panic))
    })
}

fn make<A: Answer>(answer: &A, out: &mut impl Write) -> io::Result<()> {
    let contracted = Contracted {
        contract: A::CONTRACT,
        fields: answer,
    };
    serde_json::to_writer_pretty(&mut *out, &contracted)?;
    out.write_all(b"\n")
}

/// Gathers bytes and hands them over a piece at a time.
struct Pieces {
    piece: Vec<u8>,
    sender: SyncSender<Vec<u8>>,
}

impl Write for Pieces {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.piece.len() + bytes.len() > PIECE {
            self.flush()?;
        }
        self.piece.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        let piece = std::mem::replace(&mut self.piece, Vec::with_capacity(PIECE));
        // The other side has gone only after an error of its own, which is the one that is told.
        let gone = |_| io::Error::from(io::ErrorKind::BrokenPipe);
        self.sender.send(piece).map_err(gone)
    }
}

/// The same as bytes, for an answer that is small.
pub fn render<A: Answer>(answer: &A) -> Result<Vec<u8>> {
    let mut bytes = Vec::new();
    make(answer, &mut bytes)
        .map_err(|e| Problem::data(format!("could not write the answer as JSON: {e}")))?;
    Ok(bytes)
}
