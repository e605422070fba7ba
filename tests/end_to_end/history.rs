//! Spans and episodes of the little store, each expected row derived by hand from the rules.

use boretally::history::rows::Table;
use boretally::history::{History, HistoryOptions, open};
use boretally::query::engine::Engine;
use boretally::query::local::Local;

use super::history_store::{day, little_store};

/// A 45.25, C 3, D 10 and 12.540983, E 0.32258, F 6, H 12.695652.
const EXPOSURE_M: i64 = 89_809_215;

fn opened() -> (Local, History, tempfile::TempDir) {
    let folder = tempfile::tempdir().expect("a folder");
    let store = little_store(&folder);
    let mut engine = Local::new();
    let history = open(&store, &mut engine, &HistoryOptions::default()).expect("history");
    (engine, history, folder)
}

/// The first text column, then whole numbers in thousand km where the name ends in _m.
fn lines(engine: &mut Local, sql: &str, text: &[&str], whole: &[&str]) -> Vec<String> {
    let batch = engine.query(sql).expect(sql);
    let table = Table::new(&batch);
    (0..table.len())
        .map(|i| {
            let mut parts: Vec<String> = Vec::new();
            for name in text {
                parts.push(
                    table.text(name).expect(name)[i]
                        .clone()
                        .unwrap_or("?".into()),
                );
            }
            for name in whole {
                let shown = |n: i64| match name.ends_with("_m") {
                    true => (n as f64 / 1e6).to_string(),
                    false => n.to_string(),
                };
                parts.push(table.whole(name).expect(name)[i].map_or("?".into(), shown));
            }
            parts.join(" ")
        })
        .collect()
}

#[test]
fn stretches_by_hand() {
    let (mut engine, _, _folder) = opened();
    let found = lines(
        &mut engine,
        "SELECT s.*, n.vehicle_key FROM stretches AS s JOIN vehicle_numbers AS n ON s.vehicle = n.vehicle \
         ORDER BY s.vehicle, s.sighting_date, s.sighting_odometer_m",
        &["vehicle_key", "site"],
        &[
            "engine_no",
            "segment",
            "entry_m",
            "exit_m",
            "distance_m",
            "to_sighting_m",
        ],
    );
    // Vehicle, site of the later reading, engine, segment, entry and exit on the engine's clock, distance observed, distance
    // to the later reading.
    let expected = [
        "A Ashby 0 1 70 90 20 20",
        "A Ashby 0 1 90 100 10 10",
        "A Ashby 0 1 100 101 1 1",
        // Last seen without trouble 2023-06-10: observed to 05-11, 90 of 120 days.
        "A Birchley 0 1 101 115.25 14.25 19",
        // Only failures brought B in.
        "B Ashby 0 1 150 150 0 0.005",
        "B Cedarton 0 1 150.005 150.005 0 19.995",
        // 90 of 120 days.
        "C Ashby 0 1 30 33 3 4",
        "D Birchley 0 1 100 110 10 10",
        // The engine was replaced at 110: its clock starts there. 15,000,000 x 153 / 183 days to 2022-11-01.
        "D Birchley 1 1 0 12.540983 12.540983 15",
        // A failure was the last to bring it in.
        "D Birchley 1 1 15 15 0 5",
        // On the first cluster 1 of 31 days: 30 before its last reading.
        "E Ashby 0 1 200 200.32258 0.32258 10",
        // After the cluster was changed the engine's age is unknown, its distance is not; the failure is the last sighting.
        "E Ashby 0 2 ? ? 0 12",
        // F was retired at 26: nothing after, and the half of 212 days that would have passed between two visits, and 30 more,
        // lie within the records. G drove 80,000 km in a day: that reading is ignored.
        "F Ashby 0 1 20 26 6 6",
        "H Ashby 0 1 70 80 10 10",
        // No fault was found at 84, so nothing that counts brought it in: 4,000,000 x 62 / 92 days.
        "H Ashby 0 1 80 82.695652 2.695652 4",
    ];
    assert_eq!(found, expected);
}

#[test]
fn spans_by_hand() {
    let (mut engine, _, _folder) = opened();
    let found = lines(
        &mut engine,
        "SELECT s.*, n.vehicle_key FROM spans AS s JOIN vehicle_numbers AS n ON s.vehicle = n.vehicle \
         ORDER BY s.vehicle, s.engine_no, s.segment",
        &["vehicle_key", "engine_family", "main_site"],
        &[
            "engine_no",
            "segment",
            "entry_m",
            "exit_m",
            "distance_m",
            "to_sighting_m",
            "sites",
            "stretches",
        ],
    );
    let expected = [
        "A alder-4 Ashby 0 1 70 115.25 45.25 50 2 4",
        "B alder-4 Ashby 0 1 150 150 0 20 2 2",
        "C rowan-3 Ashby 0 1 30 33 3 4 1 1",
        "D rowan-3 Birchley 0 1 100 110 10 10 1 1",
        "D rowan-3 Birchley 1 1 0 12.540983 12.540983 20 1 2",
        "E ? Ashby 0 1 200 200.32258 0.32258 10 1 1",
        "E ? Ashby 0 2 ? ? 0 12 1 1",
        "F alder-4 Ashby 0 1 20 26 6 6 1 1",
        "H rowan-3 Ashby 0 1 70 82.695652 12.695652 14 1 2",
    ];
    assert_eq!(found, expected);
}

#[test]
fn episodes_by_hand() {
    let (mut engine, _, _folder) = opened();
    let sql = "SELECT vehicle_key, cause, case_id, site, \
               CASE WHEN is_primary THEN 'primary' ELSE 'also' END AS rank, \
               CASE WHEN under_observation THEN 'observed' WHEN after_last_visit THEN 'after' ELSE 'walk-in' END AS seen, \
               cylinder, engine_no, odometer_m, position_m, comebacks \
               FROM episodes JOIN vehicle_numbers ON episodes.vehicle = vehicle_numbers.vehicle \
               ORDER BY vehicle_key, opened, cause";
    let found = lines(
        &mut engine,
        sql,
        &["vehicle_key", "cause", "case_id", "site", "rank", "seen"],
        &[
            "cylinder",
            "engine_no",
            "odometer_m",
            "position_m",
            "comebacks",
        ],
    );
    let expected = [
        // The comeback, 26 days after the first case closed and 1,000 km on, says what it was; the first, when.
        "A head_gasket A2 Ashby primary observed 2 0 100 100 1",
        // Never seen before; the visit row of the same day does not count as having been seen.
        "B ignition_coil B1 Birchley primary walk-in ? 0 150 150 0",
        // Its reading is a typing error, its span reaches beyond the day: observed, at an unknown place.
        "C spark_plug C1 Ashby primary observed 3 0 ? ? 0",
        // The failure belongs to the engine that was taken out.
        "D rings_or_bore D1 Birchley primary observed 1 0 110 110 0",
        // It failed after it had last been seen without trouble.
        "D ignition_coil D2 Birchley primary after 1 1 130 20 0",
        // The cylinder is the one the complaint named.
        "E injector_leaking E1 Ashby primary after 2 0 62 ? 0",
        "F piston_damage F1 Ashby primary observed 4 0 26 26 0",
        // Two causes of one failure; the one that was seen ranks before the one verified by the fix.
        "H exhaust_valve_leak H1 Ashby primary observed 1 0 80 80 0",
        "H intake_valve_leak H1 Ashby also observed 1 0 80 80 0",
    ];
    assert_eq!(found, expected);
}

#[test]
fn the_account_adds_up() {
    let (_, history, _folder) = opened();
    let spans = &history.account.spans;
    let visits = spans
        .versions
        .iter()
        .find(|v| v.table == "visits")
        .expect("visits");
    // 16 visits in the first export, one of them again in the second with another odometer.
    assert_eq!(
        (
            visits.rows,
            visits.records,
            visits.superseded,
            visits.edited
        ),
        (17, 16, 1, 1)
    );
    assert_eq!(spans.vehicles, 8);
    assert_eq!(spans.without_family, 1);
    // All but B, which only failures brought in, and G.
    assert_eq!(spans.vehicles_at_risk, 6);
    assert_eq!((spans.isolated, spans.too_fast), (1, 1));
    // 16 visits and 11 cases, no two of them alike in vehicle, day and odometer; two readings ignored.
    assert_eq!((spans.sightings, spans.kept), (27, 25));
    assert_eq!(
        (spans.segments_opened, spans.engines_replaced, spans.retired),
        (1, 1, 1)
    );
    assert_eq!((spans.exposure_m, spans.unknown_clock_m), (EXPOSURE_M, 0));
    assert_eq!(spans.after_last_visit_m, 146_000_000 - EXPOSURE_M);
    assert_eq!(spans.first_day, Some(day("2022-01-01")));
    assert_eq!(history.cut_off(), Some(day("2023-06-10")));
    let cases = &history.account.episodes;
    assert_eq!(
        (
            cases.events,
            cases.episodes,
            cases.walk_ins,
            cases.after_last_visit,
            cases.comebacks
        ),
        (8, 9, 1, 2, 1)
    );
    assert_eq!((cases.without_odometer, cases.without_position), (1, 2));
    assert_eq!((cases.without_cylinder, cases.without_family), (1, 1));
    // B2 has only parts fitted, H2 nothing.
    assert_eq!(cases.unconfirmed, 2);
}

#[test]
fn window_and_level_change_episodes_only() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = little_store(&folder);
    let mut engine = Local::new();
    let mut events = |window_days, window_m, confirmation| {
        let options = HistoryOptions {
            window_days,
            window_m,
            confirmation,
        };
        let account = open(&store, &mut engine, &options)
            .expect("history")
            .account;
        assert_eq!(account.spans.exposure_m, EXPOSURE_M);
        (account.episodes.events, account.episodes.comebacks)
    };
    assert_eq!(events(30, 1_600_000, 1), (8, 1));
    // A2 opened 26 days after A1 closed, and 1,000,000 m further on.
    assert_eq!(events(26, 1_000_000, 1), (8, 1));
    assert_eq!(events(25, 1_000_000, 1), (9, 0));
    assert_eq!(events(26, 999_999, 1), (9, 0));
    // Level 2: A, D1, E1, F1, H1 stay. Level 0: B2 joins.
    assert_eq!(events(30, 1_600_000, 2), (5, 1));
    assert_eq!(events(30, 1_600_000, 0), (9, 1));
    let layers = std::fs::read_dir(store.history_folder()).expect("history folder");
    let spans = layers
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter(|n| n.starts_with("spans-"));
    assert_eq!(spans.count(), 1);
}
