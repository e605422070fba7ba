//! The mapping file of the wide orders: one block a test, and one a cylinder where each cylinder has its own columns.

use std::path::Path;

use crate::domain::problem::Result;
use crate::synth::export::mapping::{Mapping, quoted};
use crate::synth::export::wide_orders::{CYLINDERS, FOLDER, TestColumns};
use crate::synth::export::words::Vocabulary;
use crate::synth::model::Model;
use crate::synth::scenario::Habit;

const HABIT: Habit = Habit::WideOrders;

/// Writes the mapping file below `folder`.
pub(super) fn write(model: &Model, folder: &Path, tests: &[TestColumns]) -> Result<()> {
    let mut mapping = Mapping::new(
        "Orders of the harbour garages: one line an order, tests and readings in columns.",
        "harbour-desk",
        &[&format!("{FOLDER}/auftraege-*.csv")],
    )
    .section(
        "format",
        &[
            ("kind", "\"delimited\""),
            ("delimiter", "\";\""),
            ("encoding", "\"windows-1252\""),
            ("decimal", "\",\""),
            ("dates", "\"dmy\""),
        ],
    )
    .section(
        "defaults",
        &[("distance_unit", "\"km\""), ("currency", "\"EUR\"")],
    )
    .section("exclude", &[("Kunde", "[\"TEST\"]")])
    .sites(model, HABIT)
    .words(
        model,
        HABIT,
        &[
            Vocabulary::Cause,
            Vocabulary::Mode,
            Vocabulary::Repair,
            Vocabulary::Outcome,
            Vocabulary::Result,
            Vocabulary::Path,
            Vocabulary::Payer,
        ],
    )
    .table("visits", None, VISITS)
    .table(
        "cases",
        Some("{ column = \"Art\", equals = \"Diagnose\" }"),
        CASES,
    )
    .table(
        "findings",
        Some("{ column = \"Befund\", not_empty = true }"),
        FINDINGS,
    );
    for test in tests {
        mapping = map_test(mapping, model, test);
    }
    mapping.write(folder, "harbour.mapping.toml")
}

const VISITS: &[(&str, &str)] = &[
    ("record", "[\"Auftrag\"]"),
    ("vehicle", "\"Fahrgestell\""),
    ("site", "\"Ort\""),
    ("date", "\"Annahme\""),
    ("odometer", "\"km-Stand\""),
    ("engine", "\"Motor\""),
    ("model_year", "\"Modelljahr\""),
    ("engine_replaced", "\"Motor neu\""),
];
const CASES: &[(&str, &str)] = &[
    ("record", "[\"Auftrag\"]"),
    ("case_id", "\"Auftrag\""),
    ("vehicle", "\"Fahrgestell\""),
    ("site", "\"Ort\""),
    ("opened", "\"Annahme\""),
    ("closed", "\"Fertig\""),
    ("odometer", "\"km-Stand\""),
    ("engine", "\"Motor\""),
    ("model_year", "\"Modelljahr\""),
    ("codes", "\"Codes\""),
    ("complaint_cylinder", "\"Zyl gemeldet\""),
    ("outcome", "\"Ausgang\""),
];
const FINDINGS: &[(&str, &str)] = &[
    ("record", "[\"Auftrag\"]"),
    ("case_id", "\"Auftrag\""),
    ("cause", "\"Befund\""),
    ("failure_mode", "\"Schadensart\""),
    ("cylinder", "\"Zylinder\""),
    ("confirmation", "\"Sicherheit\""),
    ("repair", "\"Reparatur\""),
    ("labour_hours", "\"Stunden\""),
    ("cost", "\"Netto\""),
    ("price_year", "\"Preisjahr\""),
    ("payer", "\"Zahler\""),
];

/// One block a test, or one a cylinder where each cylinder has its own columns.
fn map_test(mapping: Mapping, model: &Model, test: &TestColumns) -> Mapping {
    let h = &test.heading;
    let column = |suffix: &str| quoted(&format!("{h} {suffix}"));
    let id = format!(
        "{{ value = {} }}",
        quoted(model.knowledge.test_id(test.test))
    );
    let (step, minutes) = (column("Nr"), column("Min"));
    let mut fields = vec![
        ("case_id", quoted("Auftrag")),
        ("step", step.clone()),
        ("test", id),
    ];
    if test.by_cylinder {
        return (1..=CYLINDERS).fold(mapping, |mapping, c| {
            let mut fields = fields.clone();
            let (value, result) = (column(&format!("Z{c}")), column(&format!("Z{c} Erg")));
            fields.push(("cylinder", format!("{{ value = \"{c}\" }}")));
            fields.push(("reading", format!("{{ column = {value}, unit = \"bar\" }}")));
            fields.push(("result", result.clone()));
            if c == 1 {
                // The minutes are those of the whole step: they are told once.
                fields.push(("minutes", minutes.clone()));
            }
            let when = format!("{{ column = {result}, not_empty = true }}");
            block(mapping, &when, &fields)
        });
    }
    if !model.knowledge.whole_engine(test.test) {
        fields.push(("cylinder", quoted("Zyl geprüft")));
    }
    fields.push(("result", column("Erg")));
    fields.push(("minutes", minutes));
    if let Some(unit) = test.unit {
        let spec = format!(
            "{{ column = {}, unit = {} }}",
            column("Wert"),
            quoted(unit.symbol())
        );
        fields.push(("reading", spec));
    }
    if test.path {
        fields.push(("leak_path", column("Weg")));
    }
    block(
        mapping,
        &format!("{{ column = {step}, not_empty = true }}"),
        &fields,
    )
}

fn block(mapping: Mapping, when: &str, fields: &[(&str, String)]) -> Mapping {
    let fields: Vec<(&str, &str)> = fields.iter().map(|(k, v)| (*k, v.as_str())).collect();
    mapping.table("tests", Some(when), &fields)
}
