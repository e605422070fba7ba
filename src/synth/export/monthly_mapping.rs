//! The four mapping files of the monthly files.

use std::path::Path;

use crate::domain::problem::Result;
use crate::synth::export::mapping::Mapping;
use crate::synth::export::monthly_files::FOLDER;
use crate::synth::export::words::Vocabulary;
use crate::synth::model::Model;
use crate::synth::scenario::Habit;

const HABIT: Habit = Habit::MonthlyFiles;

/// Writes the mapping files below `folder`.
pub(super) fn write(model: &Model, folder: &Path) -> Result<()> {
    let begin = |kind: &str, date_column: bool| {
        let says = format!("{kind} of the inland garages by period: US units, files that overlap.");
        let files = format!("{FOLDER}/{kind}_*.csv");
        let mapping = Mapping::new(&says, "inland-orders", &[&files])
            .section(
                "format",
                &[
                    ("kind", "\"delimited\""),
                    ("delimiter", "\",\""),
                    ("dates", "\"mdy\""),
                ],
            )
            .section(
                "export_date",
                &[("file_name", &format!("\"{kind}_{{date}}\""))],
            );
        if date_column {
            mapping.section("exclude", &[("Customer", "[\"TEST\"]")])
        } else {
            mapping
        }
    };
    begin("visits", true)
        .sites(model, HABIT)
        .table("visits", None, VISITS)
        .write(folder, "inland-visits.mapping.toml")?;
    begin("cases", true)
        .sites(model, HABIT)
        .words(model, HABIT, &[Vocabulary::Outcome])
        .table("cases", None, CASES)
        .write(folder, "inland-cases.mapping.toml")?;
    let sure = [
        ("ASSUMED", "0"),
        ("VERIFIED", "1"),
        ("SEEN", "2"),
        ("MEASURED", "3"),
    ];
    let sure = sure
        .map(|(word, level)| (word.to_string(), level.to_string()))
        .into();
    begin("lines", false)
        .section("defaults", &[("currency", "\"USD\"")])
        .codes("confirmation", &sure)
        .words(
            model,
            HABIT,
            &[
                Vocabulary::Cause,
                Vocabulary::Mode,
                Vocabulary::Repair,
                Vocabulary::Payer,
            ],
        )
        .table("findings", None, FINDINGS)
        .write(folder, "inland-lines.mapping.toml")?;
    begin("tests", false)
        .words(
            model,
            HABIT,
            &[Vocabulary::Test, Vocabulary::Result, Vocabulary::Path],
        )
        .table("tests", None, TESTS)
        .write(folder, "inland-tests.mapping.toml")
}

const ODOMETER: (&str, &str) = ("odometer", "{ column = \"Miles\", unit_column = \"U\" }");
const VISITS: &[(&str, &str)] = &[
    ("record", "[\"RO\"]"),
    ("vehicle", "\"VIN\""),
    ("site", "\"Loc\""),
    ("date", "\"Date\""),
    ODOMETER,
    ("engine", "\"Engine\""),
    ("model_year", "\"Yr\""),
    ("engine_replaced", "\"Eng repl\""),
];
const CASES: &[(&str, &str)] = &[
    ("record", "[\"RO\"]"),
    ("case_id", "\"RO\""),
    ("vehicle", "\"VIN\""),
    ("site", "\"Loc\""),
    ("opened", "\"Opened\""),
    ("closed", "\"Closed\""),
    ODOMETER,
    ("engine", "\"Engine\""),
    ("model_year", "\"Yr\""),
    ("codes", "\"Codes\""),
    ("complaint_cylinder", "\"Cyl\""),
    ("outcome", "\"Status\""),
];
const FINDINGS: &[(&str, &str)] = &[
    ("record", "[\"RO\", \"Ln\"]"),
    ("case_id", "\"RO\""),
    ("cause", "\"Cause\""),
    ("failure_mode", "\"Mode\""),
    ("cylinder", "\"Cyl\""),
    ("confirmation", "\"How sure\""),
    ("repair", "\"Op\""),
    ("labour_hours", "\"Hrs\""),
    ("cost", "\"Net USD\""),
    ("price_year", "\"Price yr\""),
    ("payer", "\"Pay\""),
];
const TESTS: &[(&str, &str)] = &[
    ("record", "[\"RO\", \"Ln\"]"),
    ("case_id", "\"RO\""),
    ("step", "\"Seq\""),
    ("test", "\"Test\""),
    ("cylinder", "\"Cyl\""),
    (
        "reading",
        "{ column = \"Reading\", unit_column = \"Rdg unit\" }",
    ),
    ("result", "\"Result\""),
    ("leak_path", "\"Path\""),
    ("minutes", "\"Min\""),
];
