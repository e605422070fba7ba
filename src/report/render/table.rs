//! An answer on a terminal: title, verdict, basis, tables, caveats.

use comfy_table::{CellAlignment, ContentArrangement, LineStyle, Table, TableStyle};

use super::number;
use crate::answer::sheet::{Grid, Sheet, Show};

/// One line under the headings and one at the end.
const RULED: TableStyle = TableStyle::new()
    .header_separator(LineStyle::none().fill('─').junction('─'))
    .bottom_border(LineStyle::none().fill('─').junction('─'));

/// The sheet as plain text with box-drawing lines.
pub fn render(sheet: &Sheet) -> String {
    let mut out = format!("{}\n", sheet.title);
    for line in &sheet.basis {
        out += &format!("  {line}\n");
    }
    if !sheet.verdict.is_empty() {
        out.push('\n');
        for line in &sheet.verdict {
            out += &format!("=> {line}\n");
        }
    }
    for grid in &sheet.grids {
        out += &format!("\n{}\n{}\n", grid.title, grid_text(grid));
    }
    if !sheet.caveats.is_empty() {
        out += "\nRead with care\n";
        for caveat in &sheet.caveats {
            out += &format!("  [{}] {}\n", caveat.id, caveat.text);
        }
    }
    out
}

fn grid_text(grid: &Grid) -> String {
    let mut table = Table::new();
    table
        .load_style(RULED)
        .set_content_arrangement(ContentArrangement::Disabled);
    table.set_header(
        grid.headings
            .iter()
            .map(|h| comfy_table::Cell::new(&h.title)),
    );
    for row in &grid.rows {
        table.add_row(row.iter().zip(&grid.headings).map(|(cell, h)| {
            let align = if h.show == Show::Text {
                CellAlignment::Left
            } else {
                CellAlignment::Right
            };
            comfy_table::Cell::new(number::text(cell, h.show)).set_alignment(align)
        }));
    }
    table.to_string()
}
