//! An answer as Markdown, for notes.

use super::number;
use crate::answer::sheet::{Grid, Sheet, Show};

/// The sheet as GitHub-flavoured Markdown; text from data is escaped.
pub fn render(sheet: &Sheet) -> String {
    let mut out = format!("## {}\n\n", escape(&sheet.title));
    for line in &sheet.verdict {
        out += &format!("**{}**\n\n", escape(line));
    }
    for line in &sheet.basis {
        out += &format!("- {}\n", escape(line));
    }
    for grid in &sheet.grids {
        out += &format!("\n### {}\n\n{}", escape(&grid.title), grid_text(grid));
    }
    if !sheet.caveats.is_empty() {
        out += "\n### Read with care\n\n";
        for caveat in &sheet.caveats {
            out += &format!("- `{}` {}\n", caveat.id, escape(&caveat.text));
        }
    }
    out
}

fn grid_text(grid: &Grid) -> String {
    let row = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
    let mut out = row(grid.headings.iter().map(|h| escape(&h.title)).collect());
    out += &row(grid
        .headings
        .iter()
        .map(|h| if h.show == Show::Text { "---" } else { "---:" }.to_string())
        .collect());
    for cells in &grid.rows {
        out += &row(cells
            .iter()
            .zip(&grid.headings)
            .map(|(c, h)| escape(&number::text(c, h.show)))
            .collect());
    }
    out
}

fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '|' | '#' => {
                out.push('\\');
                out.push(c);
            }
            '\n' | '\r' => out.push(' '),
            _ => out.push(c),
        }
    }
    out
}
