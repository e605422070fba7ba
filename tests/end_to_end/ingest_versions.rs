//! The same records again: re-exports, edits, corrected mappings, and all ways of comparing with the store.

use boretally::ingest::account::Status;

use super::ingest_shop::{Shop, VIN_A, VIN_B, visits};

fn export(rows: &[(u32, &str, u32)]) -> String {
    let mut text = String::from("Order;VIN;In;Km;Engine;MY\n");
    for (order, vin, km) in rows {
        text += &format!("{order};{vin};2024-05-01;{km};;\n");
    }
    text
}

/// Rows whose hashes are held in memory, and whether the hashes of older rows are made again before each file.
const WAYS: [(usize, bool); 4] = [(1 << 20, false), (1 << 20, true), (1, false), (1, true)];

#[test]
fn the_same_file_again_is_no_second_batch() {
    let shop = Shop::new();
    let rows = export(&[(1, VIN_A, 1000)]);
    assert_eq!(shop.ingest(&rows, &visits("")).status, Status::Committed);
    let again = shop.ingest(&rows, &visits(""));
    assert_eq!((again.status, again.kept), (Status::AlreadyThere, 1));
    assert_eq!(shop.store().batches().unwrap().len(), 1);
}

#[test]
fn re_exports_are_told_from_edits_wherever_rows_are_held_and_without_hashes() {
    let months = [
        export(&[(1, VIN_A, 1000), (2, VIN_B, 2000), (2, VIN_B, 2000)]),
        export(&[(1, VIN_A, 1000), (2, VIN_B, 2500), (3, VIN_A, 0)]),
        export(&[
            (3, VIN_A, 0),
            (2, VIN_B, 2000),
            (4, VIN_A, 4000),
            (4, VIN_A, 4001),
        ]),
    ];
    for (held, forget) in WAYS {
        let mut shop = Shop::new();
        (shop.held, shop.forget) = (held, forget);
        let counts: Vec<[u64; 5]> = months
            .iter()
            .map(|m| {
                let a = shop.ingest(m, &visits(""));
                [a.kept, a.flagged, a.duplicate, a.quarantined, a.edited]
            })
            .collect();
        // By hand: the second 2 of January repeats; February changes 2; March brings an old version of 2 back, repeats the
        // flagged 3, and changes 4 within itself.
        assert_eq!(
            counts,
            [[2, 0, 1, 0, 0], [1, 1, 1, 0, 1], [2, 0, 2, 0, 1]],
            "{held} rows held, hashes made again: {forget}"
        );
    }
}

#[test]
fn a_corrected_mapping_stands_in_for_the_first_try() {
    for (held, forget) in WAYS {
        let mut shop = Shop::new();
        (shop.held, shop.forget) = (held, forget);
        let rows = export(&[(1, VIN_A, 1000), (2, VIN_B, 2000)]);
        shop.ingest(&rows, &visits(""));
        let account = shop.ingest(&rows, &visits("").replace("Larkmouth", "Fernhill"));
        assert_eq!(
            (account.kept, account.duplicate, account.edited),
            (2, 0, 0),
            "{held} rows held, hashes made again: {forget}"
        );
        assert_eq!(shop.rows("SELECT DISTINCT site FROM visits"), ["Fernhill"]);
    }
}

#[test]
fn entry_and_exit_are_two_visits_of_one_record() {
    let shop = Shop::new();
    let mapping = visits("")
        + "[[table]]\ninto = \"visits\"\n[table.columns]\nrecord = \"Order\"\nvehicle = \"VIN\"\ndate = \"In\"\nodometer = \"MY\"\n";
    let mapping = mapping.replacen("model_year = \"MY\"\n", "", 1);
    let account = shop.ingest(
        format!("Order;VIN;In;Km;Engine;MY\n1;{VIN_A};2024-05-01;1000;;1010\n"),
        &mapping,
    );
    assert_eq!((account.kept, account.tables["visits"]), (1, 2));
    assert_eq!(
        shop.rows("SELECT record, odometer_m FROM visits ORDER BY record"),
        ["1|1000000", "1#2|1010000"]
    );
}

#[test]
fn the_day_of_the_export_comes_from_name_column_or_constant() {
    let shop = Shop::new();
    let mapping =
        |day: &str| visits("").replace("[defaults]", &format!("[export_date]\n{day}\n[defaults]"));
    let file = shop.write("jobs_2024-06.csv", export(&[(1, VIN_A, 1000)]));
    shop.ingest_file(&file, &mapping("file_name = \"jobs_{date}.csv\""))
        .unwrap();
    assert_eq!(shop.rows("SELECT export_date FROM visits"), ["2024-06-30"]);
    let wrong = shop.ingest_file(
        &shop.write("jobs.csv", export(&[(1, VIN_A, 1)])),
        &mapping("file_name = \"{date}\""),
    );
    assert!(wrong.unwrap_err().to_string().contains("holds no day"));
    let shop = Shop::new();
    shop.ingest(export(&[(1, VIN_A, 1000)]), &mapping("column = \"In\""));
    assert_eq!(shop.rows("SELECT export_date FROM visits"), ["2024-05-01"]);
}
