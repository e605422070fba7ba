//! Rates from invented cells.

use boretally::answer::label::Labels;
use boretally::answer::question::{Question, Rules};
use boretally::answer::rates;
use boretally::answer::rates::compute::{Alternative, Input, highest};
use boretally::domain::catalog::Catalog;
use boretally::domain::distance::UnitSystem;
use boretally::domain::family::Families;
use boretally::domain::mileage_band::MileageBands;
use boretally::history::HistoryAccount;
use boretally::tally::cell::RateCell;
use boretally::tally::rates::RateTally;
use boretally::tally::{Dimension, Exposure, Filter, KeyPart};
use proptest::prelude::*;

/// Metres of a cell.
const EXPOSURES: &[i64] = &[0, 0, 40_000_000, 40_000_000, 900_000_000, 30_000_000_000];

/// Cells by cylinder, the last perhaps of an unknown one; few different counts and exposures, so that ties are common.
fn tallies() -> impl Strategy<Value = RateTally> {
    let cells = prop::collection::vec((0u64..5, prop::sample::select(EXPOSURES)), 1..9);
    (cells, any::<bool>(), 0u64..40).prop_map(|(cells, is_last_unknown, more)| {
        let last = cells.len() - 1;
        let cell = |(i, (events, exposure_m)): (usize, (u64, i64))| RateCell {
            key: vec![match is_last_unknown && i == last {
                true => KeyPart::Unknown,
                false => KeyPart::Number(i as i64 + 1),
            }],
            events: match exposure_m {
                0 => 0,
                _ => events + if i == 0 { more } else { 0 },
            },
            exposure_m,
            ..RateCell::default()
        };
        let mut cells: Vec<RateCell> = cells.into_iter().enumerate().map(cell).collect();
        cells.sort_by(|a, b| a.key.cmp(&b.key));
        RateTally {
            dimensions: vec![Dimension::Cylinder],
            exposure: Exposure::Observed,
            cells,
            history: HistoryAccount::default(),
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    /// Another rule that changes nothing names the row that the table ranks first, though it works out no limits.
    #[test]
    fn the_same_cells_under_another_rule_name_the_same_row(tally in tallies()) {
        let rules = Rules {
            confirmation: 1,
            window_days: 30,
            window_m: 1_600_000,
            exposure: Exposure::Observed,
            units: UnitSystem::Metric,
            level: 0.95,
            method: "garwood".to_owned(),
        };
        let total = RateCell {
            events: tally.cells.iter().map(|c| c.events).sum(),
            exposure_m: tally.cells.iter().map(|c| c.exposure_m).sum(),
            ..RateCell::default()
        };
        let catalog = Catalog::embedded().expect("the catalog");
        let answer = rates::answer(Input {
            question: Question::new(&Filter::default(), &tally.dimensions, &rules),
            rules: &rules,
            tally: &tally,
            all_engines: None,
            total: &total,
            alternatives: &[Alternative {
                id: "same",
                rule: "the same".to_owned(),
                tally: tally.clone(),
                total: total.clone(),
            }],
            labels: Labels {
                catalog: &catalog,
                families: &Families::default(),
                bands: &MileageBands::default_for(UnitSystem::Metric),
            },
        }).expect("an answer");
        let first = highest(&answer.rows).map(|row| row.key.title());
        prop_assert_eq!(&answer.sensitivity[0].highest, &first);
        prop_assert!(!answer.sensitivity[0].changes_verdict);
        prop_assert_eq!(first.is_some(), tally.cells.iter().any(|c| c.events > 0 && c.key != [KeyPart::Unknown]));
    }
}
