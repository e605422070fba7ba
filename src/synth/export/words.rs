//! The words that each system has for causes, outcomes, results and the rest, and the code lists that translate them back.

use crate::synth::scenario::Habit;

/// What a word is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Vocabulary {
    /// Causes.
    Cause,
    /// Failure modes.
    Mode,
    /// Repairs.
    Repair,
    /// Outcomes.
    Outcome,
    /// Tests.
    Test,
    /// Results of tests.
    Result,
    /// Leak paths.
    Path,
    /// Payers.
    Payer,
}

impl Vocabulary {
    /// Name of its code list in a mapping file: the field it belongs to.
    pub fn field(self) -> &'static str {
        match self {
            Vocabulary::Cause => "cause",
            Vocabulary::Mode => "failure_mode",
            Vocabulary::Repair => "repair",
            Vocabulary::Outcome => "outcome",
            Vocabulary::Test => "test",
            Vocabulary::Result => "result",
            Vocabulary::Path => "leak_path",
            Vocabulary::Payer => "payer",
        }
    }
}

/// Words of the wide orders, in another language and with umlauts, as (id, word).
const FOREIGN: &[(&str, &str)] = &[
    ("spark_plug", "Kerze verschlissen"),
    ("ignition_coil", "Spule defekt"),
    ("plug_boot_or_lead", "Stecker schlägt durch"),
    ("coil_circuit", "Leitung Spule"),
    ("injector_circuit", "Leitung Düse"),
    ("engine_position_signal", "Geber Kurbelwelle"),
    ("injector_restricted", "Düse zugesetzt"),
    ("injector_leaking", "Düse tropft"),
    ("injector_electrical", "Düse Wicklung"),
    ("intake_leak_at_cylinder", "Falschluft"),
    ("egr_pcv_maldistribution", "Rückführung verkokt"),
    ("exhaust_valve_leak", "Auslassventil undicht"),
    ("intake_valve_leak", "Einlassventil undicht"),
    ("valve_spring", "Ventilfeder"),
    ("lash_or_lifter", "Ventilspiel / Stößel"),
    ("cam_lobe", "Nocken eingelaufen"),
    ("head_gasket", "Kopfdichtung"),
    ("head_crack", "Kopf gerissen"),
    ("rings_or_bore", "Ringe / Laufbahn"),
    ("piston_damage", "Kolbenschaden"),
    ("scan_codes_data", "Fehlerspeicher"),
    ("coil_swap", "Spulentausch"),
    ("plug_inspect", "Kerzenbild"),
    ("relative_compression", "Relativverdichtung"),
    ("cranking_compression", "Verdichtung"),
    ("cylinder_leakage", "Druckverlust"),
    ("injector_balance", "Düsenabgleich"),
    ("intake_leak_check", "Nebelprobe"),
    ("valve_lash_check", "Ventilspielmaß"),
    ("combustion_gas", "Abgas im Kühlwasser"),
    ("confirmed", "behoben"),
    ("no_fault_found", "ohne Befund"),
    ("not_reproduced", "nicht nachvollziehbar"),
    ("unresolved_declined", "abgelehnt"),
    ("normal", "iO"),
    ("abnormal", "niO"),
    ("inconclusive", "unklar"),
    ("intake", "Ansaugung"),
    ("exhaust", "Auspuff"),
    ("crankcase", "Kurbelgehäuse"),
    ("coolant", "Kühlwasser"),
    ("adjacent", "Nachbarzylinder"),
    ("outside", "außen"),
    ("customer", "Kunde"),
    ("warranty", "Garantie"),
    ("internal", "intern"),
];

/// The word of a habit's system for a catalog id; `number` is its place in the scenario's list, where codes are numbers.
pub fn word(habit: Habit, vocabulary: Vocabulary, id: &str, number: usize) -> String {
    let spaced = || id.replace('_', " ");
    match (habit, vocabulary) {
        (Habit::WideOrders, _) => FOREIGN
            .iter()
            .find(|(known, _)| *known == id)
            .map_or_else(spaced, |(_, word)| (*word).to_string()),
        (Habit::MonthlyFiles, _) => spaced()
            .to_uppercase()
            .replace("EXHAUST", "EXH")
            .replace("INTAKE", "INT")
            .replace("VALVE", "VLV")
            .replace("INJECTOR", "INJ")
            .replace("CYLINDER", "CYL")
            .replace("COMPRESSION", "COMP"),
        (Habit::Workbook, _) => {
            let text = spaced();
            let mut letters = text.chars();
            let first = letters
                .next()
                .map(|c| c.to_uppercase().to_string())
                .unwrap_or_default();
            first + letters.as_str()
        }
        (Habit::NestedRecords, _) => id.to_string(),
        (Habit::FleetPolls, Vocabulary::Cause) => format!("C{:02}", number + 1),
        (Habit::FleetPolls, Vocabulary::Test) => format!("T{:02}", number + 1),
        (Habit::FleetPolls, Vocabulary::Result) => match id {
            "normal" => "P",
            "abnormal" => "F",
            _ => "?",
        }
        .to_string(),
        (Habit::FleetPolls, _) => id.replace('_', "-"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::scenario::Scenario;

    #[test]
    fn words_of_one_vocabulary_are_distinct() {
        let scenario = Scenario::embedded().unwrap();
        for habit in Habit::ALL {
            let words: std::collections::BTreeSet<String> = scenario
                .causes
                .iter()
                .enumerate()
                .map(|(i, c)| word(habit, Vocabulary::Cause, &c.id, i))
                .collect();
            assert_eq!(words.len(), scenario.causes.len(), "{habit:?}");
        }
        assert_eq!(
            word(
                Habit::MonthlyFiles,
                Vocabulary::Cause,
                "exhaust_valve_leak",
                0
            ),
            "EXH VLV LEAK"
        );
        assert_eq!(
            word(Habit::Workbook, Vocabulary::Result, "normal", 0),
            "Normal"
        );
    }
}
