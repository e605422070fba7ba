//! A roster without a mapping file: plain column names are understood as they stand.

use crate::domain::distance::DistanceUnit;
use crate::domain::problem::{Problem, Result};
use crate::ingest::cell::text::normal_form;

/// Names a column may have, the field it fills, and the unit that the name tells.
const COLUMNS: &[(&str, &str, &str)] = &[
    ("unit", "vehicle", "unit"),
    ("unit no", "vehicle", "unit"),
    ("unit number", "vehicle", "unit"),
    ("vehicle", "vehicle", "unit"),
    ("vin", "vehicle", "vin"),
    ("engine family", "engine_family", ""),
    ("family", "engine_family", ""),
    ("engine", "engine", ""),
    ("model year", "model_year", ""),
    ("year", "model_year", ""),
    ("odometer", "odometer", ""),
    ("odometer km", "odometer", "km"),
    ("odometer mi", "odometer", "mi"),
    ("planned distance", "planned_distance", ""),
    ("planned", "planned_distance", ""),
    ("planned km", "planned_distance", "km"),
    ("planned mi", "planned_distance", "mi"),
];

/// The mapping that a header of plain names means, as the text of a mapping file.
///
/// # Errors
/// No column names the unit, or two columns fill one field.
pub fn mapping(header: &[String], source: &str, unit: DistanceUnit) -> Result<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut filled: Vec<(&str, &str)> = Vec::new();
    for name in header {
        let form = normal_form(name);
        let Some((_, field, kind)) = COLUMNS
            .iter()
            .find(|(known, ..)| normal_form(known) == form)
        else {
            continue;
        };
        if let Some((_, other)) = filled.iter().find(|(f, _)| f == field) {
            return Err(Problem::data(format!(
                "the columns {other:?} and {name:?} both tell the {field}"
            ))
            .field(name)
            .remedy("take one of them out, or write a mapping file for the roster"));
        }
        filled.push((field, name));
        let column = toml::Value::String(name.clone());
        lines.push(match (*field, *kind) {
            (_, "") => format!("{field} = {column}"),
            ("vehicle", kind) => format!("{field} = {{ column = {column}, kind = \"{kind}\" }}"),
            (_, unit) => format!("{field} = {{ column = {column}, unit = \"{unit}\" }}"),
        });
    }
    if !filled.iter().any(|(field, _)| *field == "vehicle") {
        return Err(Problem::data("no column of the roster names the unit")
            .value(header.join(", "))
            .remedy(
                "call the columns unit (or vin), engine_family (or engine and model_year), odometer_km, planned_km, or \
                 write a mapping file with into = \"roster\" beside it",
            ));
    }
    let source = toml::Value::String(source.to_owned());
    let unit = unit.symbol();
    Ok(format!(
        "source = {source}\nfiles = [\"*\"]\n[defaults]\ndistance_unit = \"{unit}\"\n[[table]]\ninto = \"roster\"\n[table.columns]\n{}\n",
        lines.join("\n")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn header(names: &[&str]) -> Vec<String> {
        names.iter().map(|n| (*n).to_owned()).collect()
    }

    #[test]
    fn plain_names_are_understood() {
        let names = header(&[
            "Unit",
            "Engine_Family",
            "odometer-km",
            "Planned mi",
            "driver",
        ]);
        let text = mapping(&names, "north", DistanceUnit::Kilometre).unwrap();
        for line in [
            "vehicle = { column = \"Unit\", kind = \"unit\" }",
            "engine_family = \"Engine_Family\"",
            "odometer = { column = \"odometer-km\", unit = \"km\" }",
            "planned_distance = { column = \"Planned mi\", unit = \"mi\" }",
        ] {
            assert!(text.contains(line), "{line} in {text}");
        }
        assert!(!text.contains("driver"));
    }

    #[test]
    fn a_roster_without_units_or_with_a_field_twice_is_told() {
        let km = DistanceUnit::Kilometre;
        assert!(mapping(&header(&["engine"]), "s", km).is_err());
        let twice = mapping(&header(&["unit", "planned_km", "planned_mi"]), "s", km);
        assert!(twice.unwrap_err().to_string().contains("both tell"));
    }
}
