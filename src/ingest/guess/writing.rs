//! The guess as the text of a mapping file.

use std::fmt::Write;
use std::path::Path;

use crate::domain::distance::DistanceUnit;
use crate::domain::table::Table;
use crate::ingest::cell::number::NumberFormat;
use crate::ingest::mapping::Field;
use crate::ingest::mapping::code_list::Names;
use crate::ingest::mapping::export_date;
use crate::ingest::mapping::field::Words;

use super::header_word::unit_word;
use super::sample::{Column, Sample};
use super::tables::Tables;
use super::value::{self, Marks};

/// Words of one code list that are written out.
const MOST_WORDS: usize = 60;

/// The mapping's text. Writing into a String cannot fail, so its results are let go.
pub fn write(file: &Path, place: &Path, sample: &Sample, tables: &Tables, names: &Names) -> String {
    let mut text = String::new();
    head(&mut text, file, place);
    let marks = marks(sample, tables);
    format(&mut text, sample, tables, &marks);
    if export_date::found_in(file).is_some() {
        text += "\n[export_date]\nfile_name = \"{date}\"   # the file's name holds a day\n";
    }
    defaults(&mut text, sample, tables);
    codes(&mut text, sample, tables, names);
    let numbers = NumberFormat {
        decimal: marks.decimal,
        thousands: marks.thousands,
    };
    for table in &tables.into {
        table_text(&mut text, *table, sample, tables, numbers);
    }
    not_imported(&mut text, sample, tables);
    text
}

/// A TOML string in one line: the escapes of JSON are TOML's, but for one control character.
fn quoted(text: &str) -> String {
    serde_json::Value::String(text.to_owned())
        .to_string()
        .replace('\u{7f}', "\\u007f")
}

/// The column of units, if its words are units of distance (`true`) or of readings (`false`).
fn unit_column<'s>(sample: &'s Sample, tables: &Tables, of_distance: bool) -> Option<&'s Column> {
    let column = tables.unit.and_then(|i| sample.columns.get(i))?;
    let distances = value::share(column, |v| DistanceUnit::parse(v).is_some()) > 0.5;
    (distances == of_distance).then_some(column)
}

fn head(text: &mut String, file: &Path, place: &Path) {
    let name = file
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let folder = place.parent().unwrap_or(Path::new(""));
    let inside = match file.strip_prefix(folder) {
        Ok(inside) => inside.to_string_lossy().into_owned(),
        Err(_) => name.clone(),
    };
    let stem: String = name.split('.').next().unwrap_or("").to_lowercase();
    let source: String = stem
        .trim_end_matches(|c: char| c.is_ascii_digit() || matches!(c, '-' | '_'))
        .into();
    let source = if source.is_empty() {
        "my-shop".to_owned()
    } else {
        source
    };
    let _ = writeln!(
        text,
        "# A first mapping, guessed from {name}. Read every line: each guess says why it was made."
    );
    let _ = writeln!(
        text,
        "source = {}   # name the system the export comes from; record keys are unique within it",
        quoted(&source)
    );
    let _ = writeln!(
        text,
        "files = [{}]   # `*` stands for a part of a name, for instance of a month",
        quoted(&glob::Pattern::escape(&inside))
    );
}

fn number_columns<'s>(sample: &'s Sample, tables: &Tables) -> Vec<&'s Column> {
    [
        Field::Odometer,
        Field::Cost,
        Field::Reading,
        Field::LabourHours,
        Field::Minutes,
    ]
    .into_iter()
    .filter_map(|f| tables.column(sample, f))
    .collect()
}

fn marks(sample: &Sample, tables: &Tables) -> Marks {
    let columns = number_columns(sample, tables);
    value::marks(columns.iter().copied())
}

fn format(text: &mut String, sample: &Sample, tables: &Tables, marks: &Marks) {
    text.push_str("\n[format]\n");
    for note in &sample.notes {
        let _ = writeln!(text, "# {}", note.replace('\n', " "));
    }
    if sample.damaged > 0 {
        let _ = writeln!(
            text,
            "# {} of {} records could not be read",
            sample.damaged,
            sample.damaged + sample.records
        );
    }
    if let Some(encoding) = sample.encoding {
        let _ = writeln!(
            text,
            "encoding = {}   # the bytes are not UTF-8",
            quoted(encoding.id())
        );
    }
    match marks.decimal {
        Some(decimal) => {
            let _ = writeln!(
                text,
                "decimal = {}   # {}",
                quoted(&decimal.to_string()),
                marks.reason
            );
        }
        None => {
            let _ = writeln!(text, "# decimal = \",\"   # {}", marks.reason);
        }
    }
    if let Some(thousands) = marks.thousands {
        let _ = writeln!(
            text,
            "thousands = {}   # groups of three digits are parted by it",
            quoted(&thousands.to_string())
        );
    }
    let dates = [Field::Opened, Field::Closed]
        .into_iter()
        .filter_map(|f| tables.column(sample, f));
    if let Some((word, _, reason)) = value::date_order(dates) {
        let _ = writeln!(text, "dates = {}   # {reason}", quoted(word));
    }
}

fn defaults(text: &mut String, sample: &Sample, tables: &Tables) {
    text.push_str("\n[defaults]   # constants for fields that are not mapped or empty\n");
    let has = |field: Field| tables.fields.contains_key(&field);
    let into = |table: Table| tables.into.contains(&table);
    if !has(Field::Site) && (into(Table::Visits) || into(Table::Cases)) {
        text.push_str("site = \"My shop\"   # no column says where: write the shop's location\n");
    }
    if let Some(column) = tables.column(sample, Field::Odometer)
        && unit_word(&column.name).is_none()
        && unit_column(sample, tables, true).is_none()
    {
        text.push_str("distance_unit = \"km\"   # nothing says whether km or mi: ask the shop\n");
    }
    if into(Table::Findings) {
        if has(Field::Cost) && !has(Field::Currency) {
            text.push_str(
                "currency = \"EUR\"   # no column says which: write the currency of the costs\n",
            );
        }
        if !has(Field::Confirmation) {
            text.push_str("confirmation = 0   # nothing says how causes were confirmed: 0 = assumed from the parts fitted\n");
        }
    }
    if into(Table::Cases) && !has(Field::Outcome) {
        text.push_str("outcome = \"other_unmapped\"   # no column says how cases ended\n");
    }
    if into(Table::Tests) {
        if !has(Field::Result) {
            text.push_str("result = \"inconclusive\"   # no column says normal or abnormal\n");
        }
        if !has(Field::Step) {
            text.push_str("step = 1   # no column says in which order tests were done: several tests of one order need it\n");
        }
    }
}

/// Stubs of code lists: words that are understood as they are stay out, all others wait for a person.
fn codes(text: &mut String, sample: &Sample, tables: &Tables, names: &Names) {
    for field in Field::ALL {
        let Words::Catalog(_) = field.words() else {
            continue;
        };
        let Some(column) = tables.column(sample, field) else {
            continue;
        };
        let mut words: Vec<(&String, &u64)> = column
            .values
            .iter()
            .filter(|(word, _)| names.resolve(field, word).is_none())
            .collect();
        if words.is_empty() {
            continue;
        }
        words.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        let _ = writeln!(
            text,
            "\n[codes.{}]   # words that are no ids of the catalog: take the # away where the id is right, \"\" = empty",
            field.name()
        );
        for (word, count) in words.iter().take(MOST_WORDS) {
            let near = names
                .did_you_mean(field, word)
                .unwrap_or_else(|| "???".into());
            let _ = writeln!(
                text,
                "# {} = {}   # {count} times",
                quoted(word),
                quoted(&near)
            );
        }
        if words.len() > MOST_WORDS {
            let _ = writeln!(text, "# and {} more", words.len() - MOST_WORDS);
        }
    }
}

fn table_text(
    text: &mut String,
    table: Table,
    sample: &Sample,
    tables: &Tables,
    numbers: NumberFormat,
) {
    let _ = writeln!(text, "\n[[table]]\ninto = {}", quoted(table.name()));
    let name = |field: Field| tables.column(sample, field).map(|c| quoted(&c.name));
    let asked = match table {
        Table::Cases => name(Field::Outcome)
            .or_else(|| name(Field::Cause))
            .or_else(|| name(Field::Codes)),
        Table::Findings => name(Field::Cause),
        Table::Tests => name(Field::Test),
        _ => None,
    };
    if let Some(column) = asked {
        let _ = writeln!(
            text,
            "when = {{ column = {column}, not_empty = true }}   # other records say nothing for this table"
        );
    }
    text.push_str("[table.columns]\n");
    if table == Table::Visits
        && let Some(order) = name(Field::CaseId)
    {
        let _ = writeln!(
            text,
            "record = {order}   # the key under which a newer version replaces an older one"
        );
    }
    for field in Field::of(table) {
        // The day of a visit is the day the order was opened.
        let from = if *field == Field::Date {
            Field::Opened
        } else {
            *field
        };
        if let (Some(taken), Some(column)) = (tables.fields.get(&from), tables.column(sample, from))
        {
            let (spec, more) = spec(*field, column, sample, tables, numbers);
            let _ = writeln!(text, "{} = {spec}   # {}{more}", field.name(), taken.reason);
        }
    }
}

/// The right-hand side of a field, and what to say about it besides.
fn spec(
    field: Field,
    column: &Column,
    sample: &Sample,
    tables: &Tables,
    numbers: NumberFormat,
) -> (String, String) {
    let name = quoted(&column.name);
    let with = |key: &str, value: &str| format!("{{ column = {name}, {key} = {} }}", quoted(value));
    match field {
        Field::Vehicle if !value::holds_vins(column) => (
            with("kind", "unit"),
            "; its values are no vehicle identification numbers, so it counts as a unit number"
                .into(),
        ),
        Field::Odometer => match unit_word(&column.name) {
            Some(unit @ ("km" | "mi")) => (with("unit", unit), format!("; its name says {unit}")),
            _ => match unit_column(sample, tables, true) {
                Some(unit) => (with("unit_column", &unit.name), String::new()),
                None => (name, String::new()),
            },
        },
        Field::Reading => {
            if let Some(unit) = unit_column(sample, tables, false) {
                return (with("unit_column", &unit.name), String::new());
            }
            if let Some(unit) = unit_word(&column.name) {
                return (with("unit", unit), format!("; its name says {unit}"));
            }
            match value::pressure_unit(column, numbers) {
                Some(unit) => (
                    with("unit", unit.symbol()),
                    format!(
                        "; every value lies in the range of cranking compression in {}",
                        unit.symbol()
                    ),
                ),
                None => (
                    name,
                    "; nothing says the unit, and readings without one go to quarantine".into(),
                ),
            }
        }
        _ => (name, String::new()),
    }
}

fn not_imported(text: &mut String, sample: &Sample, tables: &Tables) {
    let left: Vec<&str> = sample
        .columns
        .iter()
        .enumerate()
        .filter(|(i, _)| !tables.fields.values().any(|t| t.column == *i) && tables.unit != Some(*i))
        .map(|(_, c)| c.name.as_str())
        .collect();
    if !left.is_empty() {
        let _ = writeln!(
            text,
            "\n# Not imported: {}",
            left.join(", ").replace('\n', " ")
        );
    }
}
