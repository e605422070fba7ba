//! The main table of an answer as CSV (RFC 4180), full precision.

use crate::answer::sheet::{Cell, Grid, Sheet};
use crate::domain::problem::{Problem, Result};

/// Header and rows of the first grid; numbers as the shortest decimal that reads back the same.
pub fn render(sheet: &Sheet) -> Result<Vec<u8>> {
    sheet.grids.first().map_or_else(|| Ok(Vec::new()), grid)
}

/// Header and rows of a grid.
pub fn grid(grid: &Grid) -> Result<Vec<u8>> {
    let failed = |e: csv::Error| Problem::data(format!("could not write the table as CSV: {e}"));
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    writer
        .write_record(grid.headings.iter().map(|h| h.id.as_str()))
        .map_err(failed)?;
    for row in &grid.rows {
        writer.write_record(row.iter().map(field)).map_err(failed)?;
    }
    writer
        .into_inner()
        .map_err(|e| Problem::data(format!("could not write the table as CSV: {e}")))
}

fn field(cell: &Cell) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Text(t) => neutral(t),
        Cell::Whole(n) => n.to_string(),
        Cell::Number(x) if x.is_infinite() => if *x > 0.0 { "Inf" } else { "-Inf" }.to_string(),
        Cell::Number(x) => x.to_string(),
        Cell::Day(d) => d.to_string(),
    }
}

/// Text that a spreadsheet would run as a formula gets an apostrophe in front: exports come from strangers.
fn neutral(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_from_data_are_text() {
        assert_eq!(neutral("=1+1"), "'=1+1");
        assert_eq!(neutral("north"), "north");
        assert_eq!(field(&Cell::Number(0.1 + 0.2)), "0.30000000000000004");
    }
}
