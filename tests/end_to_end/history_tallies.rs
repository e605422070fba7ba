//! Tallies of the little store, each expected number derived by hand.

use boretally::domain::distance::DistanceUnit;
use boretally::domain::mileage_band::MileageBands;
use boretally::history::{History, HistoryOptions, open};
use boretally::query::local::Local;
use boretally::tally::cell::RateCell;
use boretally::tally::rates::{self, RateTally};
use boretally::tally::shares::{self, Complaint};
use boretally::tally::{Dimension, Exposure, Filter, KeyPart, cylinders};

use super::history_store::{day, families, little_store};

struct Desk {
    engine: Local,
    history: History,
    bands: MileageBands,
    _folder: tempfile::TempDir,
}

fn desk() -> Desk {
    let folder = tempfile::tempdir().expect("a folder");
    let store = little_store(&folder);
    let mut engine = Local::new();
    let history = open(&store, &mut engine, &HistoryOptions::default()).expect("history");
    Desk {
        engine,
        history,
        bands: MileageBands::parse("0,80,160", DistanceUnit::Kilometre).expect("bands"),
        _folder: folder,
    }
}

impl Desk {
    fn rates(&mut self, filter: &Filter, by: &[Dimension], exposure: Exposure) -> RateTally {
        let (engine, history) = (&mut self.engine, &self.history);
        rates::tally(
            engine,
            rates::Asked {
                history,
                filter,
                dimensions: by,
                bands: &self.bands,
                exposure,
                families: &families(),
            },
        )
        .expect("rates")
    }

    fn observed(&mut self, filter: &Filter, by: &[Dimension]) -> Vec<RateCell> {
        self.rates(filter, by, Exposure::Observed).cells
    }
}

/// A 45.25 and F 6 thousand km; C 3, D 22.540983 and H 12.695652.
const ALDER_KM: f64 = 51_250.0;
const ROWAN_KM: f64 = 38_236.635;

fn family(id: &str) -> Filter {
    Filter {
        families: vec![id.to_owned()],
        ..Filter::default()
    }
}

fn text(t: &str) -> KeyPart {
    KeyPart::Text(t.to_owned())
}

type Shown = (Vec<KeyPart>, u64, u64, u64, u64, u64, f64);

/// Key, events, failures after the last visit, walk-ins, vehicles with events, vehicles at risk, exposure in km.
fn shown(cells: &[RateCell]) -> Vec<Shown> {
    cells
        .iter()
        .map(|c| {
            let km = c.exposure_m as f64 / 1000.0;
            (
                c.key.clone(),
                c.events,
                c.after_last_visit,
                c.walk_ins,
                c.event_vehicles,
                c.vehicles,
                km,
            )
        })
        .collect()
}

#[test]
fn everything_in_one_cell() {
    let cells = desk().observed(&Filter::default(), &[]);
    // Events A, C, D1, F, H (H's two causes are one event); D2 and E after the last visit; walk-in B. Exposure in thousand km
    // of A 45.25, C 3, D 22.540983, E 0.32258, F 6, H 12.695652; B and G have none.
    assert_eq!(shown(&cells), [(vec![], 5, 2, 1, 5, 6, 89_809.215)]);
    assert_eq!(cells[0].first, Some(day("2022-01-01")));
    assert_eq!(cells[0].last, Some(day("2023-05-11")));
}

#[test]
fn bands_and_the_unknown_sum_to_the_whole() {
    let cells = desk().observed(&Filter::default(), &[Dimension::Band]);
    let expected = [
        // A 10, C 3, D 12.540983 (the new engine), F 6, H 10; event F at 26; D2 at 20 after the last visit.
        (vec![KeyPart::Band(0)], 1, 1, 0, 1, 5, 41_540.983),
        // A 35.25, D 10, H 2.695652; events A at 100, D1 at 110, H at exactly 80: an edge belongs to the band above.
        (vec![KeyPart::Band(1)], 3, 0, 1, 3, 3, 47_945.652),
        // E 0.32258; no event, and there all the same.
        (vec![KeyPart::Band(2)], 0, 0, 0, 0, 1, 322.58),
        // Event C; E after its cluster was changed and after its last visit.
        (vec![KeyPart::Unknown], 1, 1, 0, 1, 0, 0.0),
    ];
    assert_eq!(shown(&cells), expected);
}

#[test]
fn sites_by_hand() {
    let cells = desk().observed(&family("alder-4"), &[Dimension::Site]);
    let expected = [
        // A 31, F 6; events A and F.
        (vec![text("Ashby")], 2, 0, 0, 2, 2, 37_000.0),
        // A 14.25 on the way to its visit there; B walked in there.
        (vec![text("Birchley")], 0, 0, 1, 0, 1, 14_250.0),
    ];
    assert_eq!(shown(&cells), expected);
}

#[test]
fn cylinders_share_the_distance_of_their_engine() {
    let cells = desk().observed(
        &Filter::default(),
        &[Dimension::Family, Dimension::Cylinder],
    );
    let unknown = KeyPart::Unknown;
    let at = |family: &KeyPart, cylinder| vec![family.clone(), KeyPart::Number(cylinder)];
    let (alder, rowan) = (text("alder-4"), text("rowan-3"));
    let expected = [
        (at(&alder, 1), 0, 0, 0, 0, 2, ALDER_KM),
        (at(&alder, 2), 1, 0, 0, 1, 2, ALDER_KM),
        (at(&alder, 3), 0, 0, 0, 0, 2, ALDER_KM),
        (at(&alder, 4), 1, 0, 0, 1, 2, ALDER_KM),
        (
            vec![alder.clone(), unknown.clone()],
            0,
            0,
            1,
            0,
            2,
            ALDER_KM,
        ),
        // D1 and H in cylinder 1, D2 after the last visit; C in cylinder 3.
        (at(&rowan, 1), 2, 1, 0, 2, 3, ROWAN_KM),
        (at(&rowan, 2), 0, 0, 0, 0, 3, ROWAN_KM),
        (at(&rowan, 3), 1, 0, 0, 1, 3, ROWAN_KM),
        (
            vec![rowan.clone(), unknown.clone()],
            0,
            0,
            0,
            0,
            3,
            ROWAN_KM,
        ),
        // How many cylinders an unknown engine has is unknown: its exposure stands under none of them.
        (at(&unknown, 2), 0, 1, 0, 0, 0, 0.0),
        (
            vec![unknown.clone(), unknown.clone()],
            0,
            0,
            0,
            0,
            1,
            322.58,
        ),
    ];
    assert_eq!(shown(&cells), expected);
}

#[test]
fn causes_that_were_asked_for_are_there() {
    let mut desk = desk();
    let mut filter = family("rowan-3");
    filter.causes = vec![
        "exhaust_valve_leak".into(),
        "head_crack".into(),
        "intake_valve_leak".into(),
    ];
    let cells = desk.observed(&filter, &[Dimension::Cause]);
    let expected = [
        (vec![text("exhaust_valve_leak")], 1, 0, 0, 1, 3, ROWAN_KM),
        (vec![text("head_crack")], 0, 0, 0, 0, 3, ROWAN_KM),
        (vec![text("intake_valve_leak")], 1, 0, 0, 1, 3, ROWAN_KM),
    ];
    assert_eq!(shown(&cells), expected);
    // Not split by cause, H's failure counts once.
    assert_eq!(
        shown(&desk.observed(&filter, &[])),
        [(vec![], 1, 0, 0, 1, 3, ROWAN_KM)]
    );
}

#[test]
fn a_month_takes_its_part_of_each_stretch() {
    let mut filter = family("alder-4");
    filter.from = Some(day("2022-07-01"));
    filter.to = Some(day("2022-07-31"));
    let cells = desk().observed(&filter, &[]);
    // A: 20,000,000 m in 181 days, of which 171 by the end of June: 20,000,000 - floor(20,000,000 x 171 / 181) = 1,104,973;
    // then floor(10,000,000 x 21 / 184) = 1,141,304. B is under no observation.
    assert_eq!(cells[0].exposure_m, 1_104_973 + 1_141_304);
    assert_eq!((cells[0].events, cells[0].vehicles), (0, 1));
    assert_eq!(cells[0].first, Some(day("2022-06-30")));
    assert_eq!(cells[0].last, Some(day("2022-07-31")));
}

#[test]
fn carried_exposure_goes_on_at_the_vehicles_own_pace() {
    let mut desk = desk();
    let cells = desk.rates(&family("rowan-3"), &[], Exposure::Carried).cells;
    // Cut-off 2023-06-10. C: 4,000,000 m in 120 days, 401 days on. D, its second engine: 20,000,000 m in 273 days, 101 on.
    // H: 14,000,000 m in 151 days, 374 on. Each floored to whole metres.
    let more = 13_366_666 + 7_399_267 + 34_675_496;
    assert_eq!(cells[0].exposure_m, 48_000_000 + more);
    assert_eq!(cells[0].events, 4);
    // F is retired and G has no pace; A was seen at the cut-off; B goes on from 170, in the last band.
    let alder = desk
        .rates(&family("alder-4"), &[Dimension::Band], Exposure::Carried)
        .cells;
    assert_eq!(alder[0].exposure_m, 16_000_000);
    // B: 20,000,000 m in 184 days, 282 days on.
    assert_eq!(alder[2].exposure_m, 10_000_000 + 20_000_000 * 282 / 184);
}

#[test]
fn to_the_last_sighting_of_any_kind_everything_since_the_first_counts() {
    let cells = desk()
        .rates(&Filter::default(), &[], Exposure::LastSighting)
        .cells;
    // Events A, C, D1, D2, E, F, H; walk-in B. Exposure of A 50, B 20, C 4, D 30, E 22, F 6, H 14 thousand km.
    assert_eq!(shown(&cells), [(vec![], 7, 0, 1, 6, 7, 146_000.0)]);
    assert_eq!(cells[0].last, Some(day("2023-06-10")));
}

#[test]
fn a_calendar_without_limits_changes_nothing() {
    let mut desk = desk();
    let by = [
        Dimension::Family,
        Dimension::Site,
        Dimension::Band,
        Dimension::ModelYear,
    ];
    let filter = Filter {
        from: Some(day("1990-01-01")),
        to: Some(day("2050-01-01")),
        ..Filter::default()
    };
    // Without a calendar the tally reads pieces, with one it reads stretches.
    let pieces = desk.observed(&Filter::default(), &by);
    assert_eq!(desk.observed(&filter, &by), pieces);
    assert_eq!(pieces.iter().map(|c| c.exposure_m).sum::<i64>(), 89_809_215);
}

#[test]
fn shares_count_walk_ins_and_primary_causes() {
    let mut desk = desk();
    let mut tally = |by: &[Dimension], codes: &[&str]| {
        let complaint = Complaint {
            codes: codes.iter().map(|c| (*c).to_owned()).collect(),
        };
        let filter = Filter::default();
        shares::tally(
            &mut desk.engine,
            &desk.history,
            &filter,
            by,
            &desk.bands,
            &complaint,
        )
        .expect("shares")
        .groups
    };
    let all = tally(&[], &[]);
    assert_eq!(
        (all.len(), all[0].confirmed_cases, all[0].vehicles),
        (1, 8, 7)
    );
    let causes: Vec<(&str, u64)> = all[0]
        .causes
        .iter()
        .map(|c| (c.cause.as_str(), c.cases))
        .collect();
    let expected = [
        ("exhaust_valve_leak", 1),
        ("head_gasket", 1),
        ("ignition_coil", 2),
        ("injector_leaking", 1),
        ("piston_damage", 1),
        ("rings_or_bore", 1),
        ("spark_plug", 1),
    ];
    assert_eq!(causes, expected);
    let coil_sites = &all[0].causes[2].sites;
    assert_eq!(coil_sites, &[(Some("Birchley".to_owned()), 2)]);
    let others = [
        ("confirmed".to_owned(), 1),
        ("no_fault_found".to_owned(), 1),
    ];
    assert_eq!(all[0].not_confirmed, others);
    let by_family = tally(&[Dimension::Family], &[]);
    let sizes: Vec<u64> = by_family.iter().map(|g| g.confirmed_cases).collect();
    assert_eq!(sizes, [3, 4, 1]);
    // A1 came with P0302, C1 with P0303 as its second code, H2 with P0300.
    let misfires = tally(&[], &["P030"]);
    assert_eq!(misfires[0].confirmed_cases, 2);
    assert_eq!(
        misfires[0].not_confirmed,
        [("no_fault_found".to_owned(), 1)]
    );
}

#[test]
fn cylinders_take_one_failure_a_vehicle() {
    let mut desk = desk();
    let mut tally = |id: &str| {
        cylinders::tally(&mut desk.engine, &desk.history, &family(id), &families())
            .expect("cylinders")
    };
    let alder = tally("alder-4");
    assert_eq!(
        (alder.counts, alder.unknown, alder.vehicles),
        (vec![0, 1, 0, 1], 1, 3)
    );
    assert_eq!(alder.repeat_cases_left_out, 0);
    // D failed in cylinder 1 twice.
    let rowan = tally("rowan-3");
    assert_eq!(
        (rowan.counts, rowan.unknown, rowan.vehicles),
        (vec![2, 0, 1], 0, 3)
    );
    assert_eq!(rowan.repeat_cases_left_out, 1);
    let problem = cylinders::tally(
        &mut desk.engine,
        &desk.history,
        &Filter::default(),
        &families(),
    );
    assert!(problem.is_err());
    let problem = cylinders::tally(
        &mut desk.engine,
        &desk.history,
        &family("elm-9"),
        &families(),
    );
    assert!(problem.is_err());
}
