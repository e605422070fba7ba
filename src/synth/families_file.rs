//! The families file of a scenario: what the exports' engine texts mean.

use serde::Serialize;

use crate::domain::family::Families;
use crate::domain::problem::{Problem, Result};
use crate::synth::scenario::{Family, Scenario};

#[derive(Serialize)]
struct FileForm<'a> {
    family: Vec<FamilyForm<'a>>,
}

#[derive(Serialize)]
struct FamilyForm<'a> {
    id: &'a str,
    title: &'a str,
    cylinders: u8,
    layout: &'a str,
    firing_order: &'a [u8],
    #[serde(skip_serializing_if = "<[u8]>::is_empty")]
    bank_1: &'a [u8],
    #[serde(skip_serializing_if = "<[u8]>::is_empty")]
    bank_2: &'a [u8],
    #[serde(rename = "match")]
    matches: Vec<MatchForm<'a>>,
}

#[derive(Serialize)]
struct MatchForm<'a> {
    engine: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<i16>,
    #[serde(skip_serializing_if = "Option::is_none")]
    to: Option<i16>,
}

/// The file's text, checked by reading it back.
///
/// # Errors
/// When the scenario's families contradict each other: a text that two families claim for one year, a wrong firing order.
pub fn text(scenario: &Scenario) -> Result<String> {
    let family = scenario
        .families
        .iter()
        .map(|f| form(scenario, f))
        .collect();
    let text = toml::to_string(&FileForm { family })
        .map_err(|e| Problem::data(format!("could not write the families: {e}")))?;
    Families::from_toml(&text, "families.toml")?;
    Ok(text)
}

fn form<'a>(scenario: &Scenario, family: &'a Family) -> FamilyForm<'a> {
    let bank = |i: usize| match family.banks.len() {
        0 | 1 => &[][..],
        _ => family.banks.get(i).map_or(&[][..], Vec::as_slice),
    };
    let matches = family.engine_texts.iter().map(|engine| {
        // A text that two families use needs the model years to tell them apart.
        let others = scenario
            .families
            .iter()
            .filter(|other| other.id != family.id);
        let shared = others
            .flat_map(|f| &f.engine_texts)
            .any(|text| text == engine);
        MatchForm {
            engine,
            from: shared.then_some(family.model_years[0]),
            to: shared.then_some(family.model_years[1]),
        }
    });
    FamilyForm {
        id: &family.id,
        title: &family.title,
        cylinders: family.cylinders,
        layout: &family.layout,
        firing_order: &family.firing_order,
        bank_1: bank(0),
        bank_2: bank(1),
        matches: matches.collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::family::Match;

    #[test]
    fn a_text_that_two_families_share_is_told_apart_by_model_year() {
        let text = text(&Scenario::embedded().unwrap()).unwrap();
        let families = Families::from_toml(&text, "families.toml").unwrap();
        assert_eq!(families.len(), 9);
        let id = |year| match families.find("1.8 BIRCH 16V", year) {
            Match::One(family) => family.id.clone(),
            other => format!("{other:?}"),
        };
        assert_eq!(id(Some(2010)), "birch-4");
        assert_eq!(id(Some(2016)), "birch-4-ii");
        assert!(id(None).contains("Ambiguous"));
    }
}
