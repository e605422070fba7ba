//! An answer on a terminal: title, verdict, basis, tables, caveats.

use comfy_table::{
    CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, Table, TableStyle,
};

use super::number;
use crate::answer::sheet::{Grid, Sheet, Show};

/// One line under the headings and one at the end.
const RULED: TableStyle = TableStyle::new()
    .header_separator(LineStyle::none().fill('─').junction('─'))
    .bottom_border(LineStyle::none().fill('─').junction('─'));

/// Columns of words are broken no narrower than a terminal of this width asks for.
const NARROWEST: u16 = 60;

/// The sheet as plain text with box-drawing lines. `width`: characters of the terminal it is shown on, so that columns of words are
/// broken to fit; where there is none every row stays in one line.
pub fn render(sheet: &Sheet, width: Option<u16>) -> String {
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
        out += &format!("\n{}\n{}\n", grid.title, grid_text(grid, width));
    }
    if !sheet.caveats.is_empty() {
        out += "\nRead with care\n";
        for caveat in &sheet.caveats {
            out += &format!("  [{}] {}\n", caveat.id, caveat.text);
        }
    }
    out
}

fn grid_text(grid: &Grid, width: Option<u16>) -> String {
    let mut table = Table::new();
    table
        .load_style(RULED)
        .set_content_arrangement(ContentArrangement::Disabled);
    if let Some(width) = width {
        table
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(width.max(NARROWEST));
    }
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
    for (column, heading) in table.column_iter_mut().zip(&grid.headings) {
        if heading.show != Show::Text {
            // A broken number cannot be read.
            column.set_constraint(ColumnConstraint::ContentWidth);
        }
    }
    table.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::sheet::{Cell, Heading};

    fn grid() -> Grid {
        let heading = |id: &str, show| Heading {
            id: id.to_string(),
            title: id.to_string(),
            show,
        };
        Grid {
            id: "plan".to_string(),
            title: "plan".to_string(),
            headings: vec![heading("do", Show::Text), heading("minutes", Show::Count)],
            rows: vec![vec![
                Cell::Text("stop and repair the exhaust valve of the cylinder that leaks; if that was not it, measure again and say so".to_string()),
                Cell::Whole(1234),
            ]],
        }
    }

    #[test]
    fn words_are_broken_to_the_terminal_and_numbers_are_not() {
        let widest = |text: &str| text.lines().map(|l| l.chars().count()).max().unwrap_or(0);
        assert!(widest(&grid_text(&grid(), None)) > 110);
        for width in [60, 80] {
            let text = grid_text(&grid(), Some(width));
            assert!(widest(&text) <= usize::from(width), "{text}");
            assert!(text.contains("1234"), "{text}");
        }
        assert_eq!(
            grid_text(&grid(), Some(10)),
            grid_text(&grid(), Some(NARROWEST))
        );
    }
}
