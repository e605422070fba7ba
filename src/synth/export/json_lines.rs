//! JSON lines with objects within objects, gzip-compressed; a column's dots become nesting.

use std::path::{Path, PathBuf};

use crate::domain::problem::Result;
use crate::synth::export::cell::{Cell, Column, DateStyle, Locale};
use crate::synth::export::delimited::{Compression, Stream};
use crate::synth::export::sink::{Place, RawDamage, Sink};

/// One file of JSON lines for records of one or several kinds with the same columns.
pub struct JsonLinesFile {
    path: PathBuf,
    name: String,
    columns: Vec<Vec<String>>,
    stream: Option<Stream>,
    next_line: u64,
}

impl JsonLinesFile {
    /// Creates `name` below `folder`. Columns of one object must stand together.
    pub fn create(folder: &Path, name: &str, columns: &[Column]) -> Result<Self> {
        let path = folder.join(name);
        let stream = Stream::create(&path, Compression::Gzip)?;
        Ok(Self {
            path,
            name: name.to_string(),
            columns: columns
                .iter()
                .map(|c| c.name.split('.').map(str::to_string).collect())
                .collect(),
            stream: Some(stream),
            next_line: 1,
        })
    }
}

fn value(cell: &Cell) -> String {
    let locale = Locale {
        decimal: '.',
        dates: DateStyle::Iso,
    };
    match cell {
        Cell::Empty => "null".to_string(),
        Cell::Whole(_) | Cell::Number(..) => locale.render(cell),
        Cell::Text(_) | Cell::Day(_) => serde_json::Value::String(locale.render(cell)).to_string(),
    }
}

/// Writes the object of the given members, whose paths all begin at `depth`; empty cells are left out.
fn object(members: &[(&[String], &Cell)], depth: usize, out: &mut String) {
    out.push('{');
    let mut first = true;
    let mut rest = members;
    while let Some((path, cell)) = rest.first() {
        let name = path.get(depth);
        let alike = rest
            .iter()
            .take_while(|(p, _)| p.get(depth) == name)
            .count();
        let (group, after) = rest.split_at(alike);
        rest = after;
        if group.iter().all(|(_, c)| **c == Cell::Empty) {
            continue;
        }
        if !first {
            out.push(',');
        }
        first = false;
        let name = name.map(String::as_str).unwrap_or_default();
        out.push_str(&serde_json::Value::from(name).to_string());
        out.push(':');
        if path.len() > depth + 1 {
            object(group, depth + 1, out);
        } else {
            out.push_str(&value(cell));
        }
    }
    out.push('}');
}

impl Sink for JsonLinesFile {
    fn write(&mut self, row: &[Cell], damage: Option<RawDamage>) -> Result<Place> {
        let members: Vec<(&[String], &Cell)> =
            self.columns.iter().map(Vec::as_slice).zip(row).collect();
        let mut line = String::new();
        object(&members, 0, &mut line);
        let mut bytes = line.into_bytes();
        match damage {
            Some(RawDamage::Short) => bytes.truncate(bytes.len() / 2),
            // A byte that UTF-8 never has, inside the last text.
            Some(RawDamage::Undecodable) => bytes.insert(bytes.len().saturating_sub(2), 0xff),
            _ => {}
        }
        bytes.push(b'\n');
        let place = Place {
            file: self.name.clone(),
            line: self.next_line,
        };
        self.next_line += 1;
        if let Some(stream) = &mut self.stream {
            stream.write(&bytes, &self.path)?;
        }
        Ok(place)
    }

    fn can_have(&self) -> &'static [RawDamage] {
        &[RawDamage::Short, RawDamage::Undecodable]
    }

    fn finish(&mut self) -> Result<()> {
        match self.stream.take() {
            Some(stream) => stream.close(&self.path),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nests_by_dots_and_leaves_empty_cells_out() {
        let paths: Vec<Vec<String>> = ["id", "unit.vin", "unit.odometer.value", "unit.year", "x.y"]
            .iter()
            .map(|p| p.split('.').map(str::to_string).collect())
            .collect();
        let cells = [
            Cell::text("a\"b"),
            Cell::text("V"),
            Cell::Whole(3),
            Cell::Number(1.25, 2),
            Cell::Empty,
        ];
        let members: Vec<(&[String], &Cell)> =
            paths.iter().map(Vec::as_slice).zip(&cells).collect();
        let mut out = String::new();
        object(&members, 0, &mut out);
        assert_eq!(
            out,
            r#"{"id":"a\"b","unit":{"vin":"V","odometer":{"value":3},"year":1.25}}"#
        );
    }
}
