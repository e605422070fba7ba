//! A little store made by hand with every trouble in it, written through the batch writer.
//!
//! All odometers in whole thousand km unless told; families alder-4 (four cylinders), rowan-3 (three), E unknown.
//! - A (alder-4): seen 2022-01-10 at 70 and 2022-07-10 at 90 (first exported as 95, corrected in the second export).
//!   Case A1 2023-01-10 at 100: exhaust valve, cylinder 2, closed 01-15. Comeback A2 2023-02-10 at 101: head gasket,
//!   cylinder 2. Seen 2023-06-10 at 120, at Birchley; everything before at Ashby.
//! - B (alder-4): walks in with case B1 2022-03-01 at 150: coil, cylinder unknown; a visit row of the same order, same
//!   day, 150.005. Case B2 2022-09-01 at 170, at Cedarton: parts fitted without proof (level 0).
//! - C (rowan-3): 2022-01-05 at 30; case C1 2022-03-05 with a typing error, 300: plug, cylinder 3; 2022-05-05 at 34.
//! - D (rowan-3): 2022-01-01 at 100; case D1 2022-06-01 at 110: rings, cylinder 1, engine replaced; 2022-12-01 at 125;
//!   case D2 2023-03-01 at 130: coil, cylinder 1.
//! - E (family unknown): 2022-01-01 at 200, 2022-02-01 at 210, cluster changed, 2022-03-01 at 50; case E1 2022-09-01 at 62:
//!   leaking injector, cylinder named by the complaint only, 2.
//! - F (alder-4): 2022-01-01 at 20; case F1 2022-04-01 at 26: piston, cylinder 4, vehicle retired; seen 2022-08-01 at 30.
//! - G (alder-4): 2022-01-01 at 10, 2022-01-02 at 90: 80,000 km in a day.
//! - H (rowan-3): 2022-01-01 at 70; case H1 2022-03-01 at exactly 80: exhaust valve (seen) and intake valve (verified),
//!   cylinder 1; case H2 2022-06-01 at 84: no fault found.

use boretally::domain::day::Day;
use boretally::domain::family::Families;
use boretally::domain::table::Table;
use boretally::store::rows::index_of;
use boretally::store::{BatchAccount, BatchHeader, BatchWriter, Begin, InitOptions, Store};

pub const FAMILIES: &str = "[[family]]\nid = \"alder-4\"\ncylinders = 4\nlayout = \"inline\"\n\
     [[family]]\nid = \"rowan-3\"\ncylinders = 3\nlayout = \"inline\"\n";

pub fn day(text: &str) -> Day {
    Day::parse_iso(text).expect("a day")
}

pub fn families() -> Families {
    Families::from_toml(FAMILIES, "families.toml").expect("families")
}

/// One cell of a row.
pub enum Cell {
    T(&'static str),
    N(i64),
    D(&'static str),
    F(bool),
    X(f64),
}

use Cell::{D, F, N, T, X};

/// A batch being written, with the number of its next line.
pub struct Export {
    writer: Box<BatchWriter>,
    line: i64,
}

impl Export {
    pub fn begin(store: &Store, name: &str, exported: &str) -> Self {
        let header = BatchHeader {
            source: "desk".into(),
            file: format!("{name}.csv"),
            content_hash: name.into(),
            mapping: "desk.mapping.toml".into(),
            mapping_hash: "m".into(),
            export_date: Some(day(exported)),
        };
        match store.begin_batch(header).expect("a batch") {
            Begin::New(writer) => Self { writer, line: 0 },
            Begin::AlreadyThere(info) => panic!("{} is there already", info.id),
        }
    }

    fn row(&mut self, table: Table, record: &str, cells: Vec<(&str, Cell)>) {
        self.line += 1;
        let line = self.line;
        let sink = self.writer.sink(table).expect("a sink");
        let column = |name: &str| index_of(table, name).expect("a column");
        for (name, cell) in cells {
            match cell {
                T(text) => sink.text(column(name), text),
                N(whole) => sink.whole(column(name), whole),
                D(iso) => sink.day(column(name), day(iso)),
                F(flag) => sink.flag(column(name), flag),
                X(number) => sink.number(column(name), number),
            }
        }
        sink.text(column("record"), record);
        sink.whole(column("digest"), line * 7919 + record.len() as i64);
        sink.whole(column("line"), line);
        sink.end_row().expect("a row");
    }

    /// Site, day, metres and family of one visit.
    pub fn visit(
        &mut self,
        vehicle: &'static str,
        site: &'static str,
        date: &'static str,
        odometer_m: i64,
        family: Option<&'static str>,
    ) {
        let mut cells = vec![
            ("vehicle", T(vehicle)),
            ("site", T(site)),
            ("date", D(date)),
            ("odometer_m", N(odometer_m)),
            ("model_year", N(2016)),
            ("engine_replaced", F(false)),
        ];
        cells.extend(family.map(|f| ("engine_family", T(f))));
        self.row(Table::Visits, &format!("{vehicle} {date}"), cells);
    }

    /// One case; `complaint` names a cylinder.
    #[allow(clippy::too_many_arguments)]
    pub fn case(
        &mut self,
        case_id: &'static str,
        vehicle: &'static str,
        site: &'static str,
        opened: &'static str,
        odometer_m: i64,
        family: Option<&'static str>,
        outcome: &'static str,
        more: Vec<(&'static str, Cell)>,
    ) {
        let mut cells = vec![
            ("case_id", T(case_id)),
            ("vehicle", T(vehicle)),
            ("site", T(site)),
            ("opened", D(opened)),
            ("odometer_m", N(odometer_m)),
            ("model_year", N(2016)),
            ("outcome", T(outcome)),
        ];
        cells.extend(family.map(|f| ("engine_family", T(f))));
        cells.extend(more);
        self.row(Table::Cases, case_id, cells);
    }

    /// One finding.
    pub fn finding(
        &mut self,
        case_id: &'static str,
        cause: &'static str,
        cylinder: Option<i64>,
        confirmation: i64,
        repair: &'static str,
    ) {
        let mut cells = vec![
            ("case_id", T(case_id)),
            ("cause", T(cause)),
            ("confirmation", N(confirmation)),
            ("repair", T(repair)),
        ];
        cells.extend(cylinder.map(|c| ("cylinder", N(c))));
        self.row(Table::Findings, &format!("{case_id} {cause}"), cells);
    }

    /// One test step on one cylinder or on the whole engine.
    pub fn step(
        &mut self,
        case_id: &'static str,
        step: i64,
        test: &'static str,
        cylinder: Option<i64>,
        reading: Option<f64>,
        result: &'static str,
    ) {
        let mut cells = vec![
            ("case_id", T(case_id)),
            ("step", N(step)),
            ("test", T(test)),
            ("result", T(result)),
        ];
        cells.extend(cylinder.map(|c| ("cylinder", N(c))));
        cells.extend(reading.map(|r| ("reading", X(r))));
        let record = format!("{case_id} {step} {cylinder:?}");
        self.row(Table::Tests, &record, cells);
    }

    pub fn commit(self) {
        let lines = self.line as u64;
        let account = BatchAccount {
            read: lines,
            kept: lines,
            ..BatchAccount::default()
        };
        self.writer.commit(account).expect("a commit");
    }
}

const ALDER: Option<&str> = Some("alder-4");
const ROWAN: Option<&str> = Some("rowan-3");
const KM: i64 = 1_000_000;

/// The store described above, in two exports.
pub fn little_store(folder: &tempfile::TempDir) -> Store {
    let store = Store::init(folder.path().join("store"), &InitOptions::default()).expect("a store");
    store.add_families(&families()).expect("families");
    first_export(&store);
    let mut second = Export::begin(&store, "second", "2023-07-01");
    second.visit("A", "Ashby", "2022-07-10", 90 * KM, ALDER);
    second.commit();
    store
}

fn first_export(store: &Store) {
    let mut e = Export::begin(store, "first", "2023-06-30");
    e.visit("A", "Ashby", "2022-01-10", 70 * KM, ALDER);
    e.visit("A", "Ashby", "2022-07-10", 95 * KM, ALDER);
    e.visit("A", "Birchley", "2023-06-10", 120 * KM, ALDER);
    e.visit("B", "Ashby", "2022-03-01", 150 * KM + 5_000, ALDER);
    e.visit("C", "Ashby", "2022-01-05", 30 * KM, ROWAN);
    e.visit("C", "Ashby", "2022-05-05", 34 * KM, None);
    e.visit("D", "Birchley", "2022-01-01", 100 * KM, ROWAN);
    e.visit("D", "Birchley", "2022-12-01", 125 * KM, ROWAN);
    e.visit("E", "Ashby", "2022-01-01", 200 * KM, None);
    e.visit("E", "Ashby", "2022-02-01", 210 * KM, None);
    e.visit("E", "Ashby", "2022-03-01", 50 * KM, None);
    e.visit("F", "Ashby", "2022-01-01", 20 * KM, ALDER);
    e.visit("F", "Ashby", "2022-08-01", 30 * KM, ALDER);
    e.visit("G", "Ashby", "2022-01-01", 10 * KM, ALDER);
    e.visit("G", "Ashby", "2022-01-02", 90 * KM, ALDER);
    e.visit("H", "Ashby", "2022-01-01", 70 * KM, ROWAN);
    let yes = "confirmed";
    let closed = vec![("closed", D("2023-01-15")), ("codes", T("P0302"))];
    e.case(
        "A1",
        "A",
        "Ashby",
        "2023-01-10",
        100 * KM,
        ALDER,
        yes,
        closed,
    );
    e.case(
        "A2",
        "A",
        "Ashby",
        "2023-02-10",
        101 * KM,
        ALDER,
        yes,
        vec![],
    );
    e.case(
        "B1",
        "B",
        "Birchley",
        "2022-03-01",
        150 * KM,
        ALDER,
        yes,
        vec![],
    );
    e.case(
        "B2",
        "B",
        "Cedarton",
        "2022-09-01",
        170 * KM,
        ALDER,
        yes,
        vec![],
    );
    let code = vec![("codes", T("P0420 P0303"))];
    e.case("C1", "C", "Ashby", "2022-03-05", 300 * KM, ROWAN, yes, code);
    e.case(
        "D1",
        "D",
        "Birchley",
        "2022-06-01",
        110 * KM,
        ROWAN,
        yes,
        vec![],
    );
    e.case(
        "D2",
        "D",
        "Birchley",
        "2023-03-01",
        130 * KM,
        ROWAN,
        yes,
        vec![],
    );
    let named = vec![("complaint_cylinder", N(2))];
    e.case("E1", "E", "Ashby", "2022-09-01", 62 * KM, None, yes, named);
    e.case(
        "F1",
        "F",
        "Ashby",
        "2022-04-01",
        26 * KM,
        ALDER,
        yes,
        vec![],
    );
    e.case(
        "H1",
        "H",
        "Ashby",
        "2022-03-01",
        80 * KM,
        ROWAN,
        yes,
        vec![],
    );
    let nothing = vec![("codes", T("P0300"))];
    e.case(
        "H2",
        "H",
        "Ashby",
        "2022-06-01",
        84 * KM,
        ROWAN,
        "no_fault_found",
        nothing,
    );
    e.finding("A1", "exhaust_valve_leak", Some(2), 2, "head_repair");
    e.finding("A2", "head_gasket", Some(2), 3, "head_gasket_replace");
    e.finding("B1", "ignition_coil", None, 1, "coil_replace");
    e.finding("B2", "spark_plug", Some(1), 0, "spark_plug_replace");
    e.finding("C1", "spark_plug", Some(3), 1, "spark_plug_replace");
    e.finding("D1", "rings_or_bore", Some(1), 3, "engine_replace");
    e.finding("D2", "ignition_coil", Some(1), 1, "coil_replace");
    e.finding("E1", "injector_leaking", None, 2, "injector_replace");
    e.finding("F1", "piston_damage", Some(4), 3, "vehicle_retired");
    e.finding("H1", "intake_valve_leak", Some(1), 1, "head_repair");
    e.finding("H1", "exhaust_valve_leak", Some(1), 2, "head_repair");
    e.commit();
}
