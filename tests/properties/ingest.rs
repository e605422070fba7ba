//! Laws of ingest: whatever is done to an export, every record ends in exactly one of the four counts, nothing panics, and
//! a second reading of the same records adds nothing.

use std::path::{Path, PathBuf};

use boretally::domain::catalog::Catalog;
use boretally::domain::day::Day;
use boretally::domain::family::Families;
use boretally::domain::table::Table;
use boretally::ingest::account::{FileAccount, Status};
use boretally::ingest::cell::number::NumberFormat;
use boretally::ingest::cell::{cylinder, date, text};
use boretally::ingest::guess;
use boretally::ingest::mapping::Mapping;
use boretally::ingest::mapping::code_list::Names;
use boretally::ingest::read::DateOrder;
use boretally::ingest::run::Ingest;
use boretally::ingest::translate::Naming;
use boretally::store::durable::sha256_file;
use boretally::store::{BatchInfo, InitOptions, Store, VehicleKey};
use proptest::prelude::*;

const EXPORT: &str = "Order;VIN;In;Km;Engine;Cause;Cyl;Cost\n\
    1;11111111111111111;31.05.2024;85.000;Alder;spark_plug;3;12,50\n\
    2;000AA00A8A0000001;01.06.2024;86.000;Alder;;;\n\
    3;000AA00AXA0000002;02.06.2024;0;\"Alder; big\";head_gasket;;1.200,00\n\
    4;11111111111111111;03.06.2024;87.000;;dunno;left;\n";

const MAPPING: &str = r#"
source = "desk"
files = ["*.csv"]
[format]
delimiter = ";"
decimal = ","
thousands = "."
dates = "dmy"
[defaults]
site = "Larkmouth"
distance_unit = "km"
currency = "EUR"
confirmation = 1
[[table]]
into = "visits"
[table.columns]
record = "Order"
vehicle = "VIN"
date = "In"
odometer = "Km"
engine = "Engine"
[[table]]
into = "findings"
when = { column = "Cause", not_empty = true }
[table.columns]
case_id = "Order"
cause = "Cause"
cylinder = "Cyl"
cost = "Cost"
"#;

/// What a run tells of its files, `None` for one that cannot be read as a file, and what the store holds afterwards.
#[derive(Debug, PartialEq)]
struct Ran {
    accounts: Vec<Option<FileAccount>>,
    batches: Vec<BatchInfo>,
    /// SHA-256 of every Parquet file.
    hashes: Vec<String>,
}

/// Ingests exports, holding the hashes of so many rows in memory, one call a file or all of them in one call.
fn run(folder: &Path, exports: &[Vec<u8>], held: usize, at_once: bool) -> Ran {
    let store = folder.join(format!("store-{at_once}-{held}"));
    let store = Store::init(store, &InitOptions::default()).expect("a store");
    let catalog = Catalog::embedded().expect("the catalog");
    let families = Families::default();
    let names = Names {
        catalog: &catalog,
        families: &families,
    };
    let mapping = Mapping::from_text(MAPPING, &folder.join("m.mapping.toml"), &names);
    let mapping = mapping.expect("a mapping");
    let run = Ingest {
        store: &store,
        names,
        names_text: "",
        naming: Naming::Keyed(Box::new(VehicleKey::from_bytes(&[7; 32]))),
        as_of: Day::parse_iso("2025-12-31").expect("a day"),
        held,
    };
    let write = |(i, bytes): (usize, &Vec<u8>)| {
        let file = folder.join(format!("{i}.csv"));
        std::fs::write(&file, bytes).expect("written");
        file
    };
    let files: Vec<PathBuf> = exports.iter().enumerate().map(write).collect();
    let files: Vec<(&Path, &Mapping)> = files.iter().map(|f| (f.as_path(), &mapping)).collect();
    let accounts = match at_once {
        true => run.files(&files, &()),
        false => files.iter().map(|(f, m)| run.file(f, m)).collect(),
    };
    let tables = Table::ALL.into_iter();
    let parquet = tables.flat_map(|t| store.table_files(t).expect("files"));
    Ran {
        accounts: accounts.into_iter().map(Result::ok).collect(),
        batches: store.batches().expect("batches"),
        hashes: parquet.map(|f| sha256_file(&f).expect("a hash")).collect(),
    }
}

/// Accounts of a run of its own.
fn ingest(exports: &[Vec<u8>]) -> Vec<Option<FileAccount>> {
    let folder = tempfile::tempdir().expect("a folder");
    run(folder.path(), exports, 1000, true).accounts
}

/// Replaces, removes or repeats bytes at places of the export behind its first line.
fn damaged() -> impl Strategy<Value = Vec<u8>> {
    let header = EXPORT.find('\n').map_or(0, |i| i + 1);
    let harm = (header..EXPORT.len(), 0u8..4, any::<u8>());
    proptest::collection::vec(harm, 0..8).prop_map(|harms| {
        let mut bytes = EXPORT.as_bytes().to_vec();
        for (at, kind, byte) in harms {
            let at = at.min(bytes.len().saturating_sub(1));
            match kind {
                0 => bytes[at] = byte,
                1 => {
                    bytes.remove(at);
                }
                2 => bytes.insert(at, byte),
                _ => bytes.insert(at, b";\"\n,."[usize::from(byte) % 5]),
            }
        }
        bytes
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn every_record_of_a_harmed_export_is_counted_once(bytes in damaged()) {
        for account in ingest(&[bytes]).into_iter().flatten() {
            prop_assert_eq!(account.read, account.kept + account.flagged + account.duplicate + account.quarantined);
            prop_assert_eq!(account.status, Status::Committed);
            prop_assert!(account.edited <= account.kept + account.flagged);
        }
    }

    /// With a line more the file is another one, but its other records are all known.
    #[test]
    fn known_records_are_duplicates(bytes in damaged()) {
        let more = [bytes.as_slice(), b"\n"].concat();
        if let [Some(first), Some(second)] = ingest(&[bytes, more]).as_slice()
            && first.quarantined == 0
            && first.read == second.read
        {
            prop_assert_eq!(second.duplicate, second.read);
        }
    }

    /// Files are read side by side and hashes held in memory or not; neither shows, not even in a byte.
    #[test]
    fn files_count_as_if_read_one_after_another(few in proptest::collection::vec(damaged(), 1..4), order in proptest::collection::vec((0usize..6, 0usize..3), 1..9)) {
        // The same file again, the same records in another file, a file without a record, an empty one.
        let kinds = |kind, bytes: &Vec<u8>| match kind {
            0 => [bytes.as_slice(), b"\n"].concat(),
            1 => EXPORT.lines().next().unwrap_or_default().into(),
            2 => Vec::new(),
            _ => bytes.clone(),
        };
        let exports: Vec<Vec<u8>> = order.iter().map(|(kind, i)| kinds(*kind, &few[i % few.len()])).collect();
        let folder = tempfile::tempdir().expect("a folder");
        let one_by_one = run(folder.path(), &exports, 1000, false);
        prop_assert_eq!(&run(folder.path(), &exports, 1 << 20, true), &one_by_one);
        prop_assert_eq!(&run(folder.path(), &exports, 1, true), &one_by_one);
    }
}

proptest! {
    #[test]
    fn no_cell_panics(cell in "\\PC{0,24}", odd in "[0-9.,'/:eE+ -]{0,20}") {
        for cell in [cell.as_str(), odd.as_str()] {
            let trimmed = text::trim(cell);
            let _ = text::normal_form(cell);
            for decimal in [None, Some('.'), Some(',')] {
                for thousands in [None, Some('.'), Some(','), Some(' '), Some('\'')] {
                    let _ = NumberFormat { decimal, thousands }.parse_with_rest(trimmed);
                }
            }
            for order in [DateOrder::Ymd, DateOrder::Dmy, DateOrder::Mdy, DateOrder::Serial1900, DateOrder::Serial1904] {
                let _ = date::parse(order, trimmed);
            }
            let _ = cylinder::parse(trimmed);
        }
    }

    /// What is written with the marks of a file is read back, whatever the marks.
    #[test]
    fn numbers_come_back(n in 0u64..10_000_000_000, decimals in 0u32..1000, comma in any::<bool>(), grouped in any::<bool>()) {
        let (decimal, thousands) = if comma { (',', '.') } else { ('.', ',') };
        let digits = n.to_string();
        let whole = if grouped {
            let bytes: Vec<&str> = digits.as_bytes().rchunks(3).rev().map(|c| std::str::from_utf8(c).expect("digits")).collect();
            bytes.join(&thousands.to_string())
        } else {
            digits
        };
        let format = NumberFormat { decimal: Some(decimal), thousands: Some(thousands) };
        let read = format.parse(&format!("{whole}{decimal}{decimals:03}")).expect("a number");
        prop_assert_eq!(read.scaled(3), Some((n * 1000 + u64::from(decimals)) as i64));
    }

    /// A day written in an order and read in it is the same day.
    #[test]
    fn days_come_back(days in 3652i32..40000) {
        let iso = Day(days).to_string();
        let (y, m, d) = (&iso[0..4], &iso[5..7], &iso[8..10]);
        for (order, text) in [
            (DateOrder::Ymd, format!("{y}/{m}/{d}")),
            (DateOrder::Dmy, format!("{d}.{m}.{y} 14:22")),
            (DateOrder::Mdy, format!("{m}/{d}/{y}")),
            (DateOrder::Serial1900, format!("{}.5", days + 25_569)),
            (DateOrder::Serial1904, format!("{}", days + 24_107)),
        ] {
            prop_assert_eq!(date::parse(order, &text), Ok(Day(days)), "{}", text);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// A guess is a mapping, or a problem: never a text that is no mapping.
    #[test]
    fn a_guess_of_a_harmed_export_is_a_mapping(bytes in damaged(), header in "[A-Za-z;\"'#. ]{0,30}") {
        let folder = tempfile::tempdir().expect("a folder");
        let catalog = Catalog::embedded().expect("the catalog");
        let families = Families::default();
        let names = Names { catalog: &catalog, families: &families };
        let file = folder.path().join("a.csv");
        std::fs::write(&file, [header.as_bytes(), &bytes].concat()).expect("written");
        if let Err(problem) = guess::mapping(&file, &folder.path().join("a.mapping.toml"), &names) {
            prop_assert!(!problem.to_string().contains("a.mapping.toml"), "{}", problem);
        }
    }
}
