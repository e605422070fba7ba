//! Mistakes in mappings and files that cannot be read: each message names file, key, value and the way out.

use super::ingest_shop::{Shop, VIN_A, visits};

fn told(shop: &Shop, mapping: &str) -> String {
    let file = shop.write(
        "a.csv",
        format!("Order;VIN;In;Km;Engine;MY\n1;{VIN_A};2024-05-01;1000;;\n"),
    );
    match shop.ingest_file(&file, mapping) {
        Ok(account) => panic!("accepted: {account:?}"),
        Err(problem) => problem.to_string(),
    }
}

#[test]
fn every_mistake_names_its_place_and_the_way_out() {
    let shop = Shop::new();
    let base = visits("");
    for (mapping, parts) in [
        (
            base.replace("\"Km\"", "{ column = \"Km\", unit = \"leagues\" }"),
            vec![
                "table 1 (visits).columns.odometer.unit",
                "leagues",
                "km, mi",
            ],
        ),
        (
            base.replace("\"Km\"", "\"Kms\""),
            vec![
                "table 1 (visits).columns.odometer",
                "\"Kms\"",
                "did you mean \"Km\"",
                "Order, VIN, In",
            ],
        ),
        (
            base.replace("odometer =", "odometre ="),
            vec!["odometre", "did you mean \"odometer\""],
        ),
        (
            base.replace("into = \"visits\"", "into = \"visit\""),
            vec!["table 1 (visit).into", "did you mean \"visits\""],
        ),
        (
            base.replace("[defaults]", "[default]"),
            vec!["default", "line"],
        ),
        (
            base.replace("site = ", "sites = "),
            vec!["defaults.sites", "did you mean \"site\""],
        ),
        (
            base.replace("distance_unit = \"km\"", "distance_unit = \"leagues\""),
            vec!["defaults.distance_unit", "leagues"],
        ),
        (
            base.replace(
                "[defaults]",
                "[codes.cause]\n\"X\" = \"spark_plugg\"\n[defaults]",
            ) + FINDINGS,
            vec!["codes.cause", "spark_plugg", "did you mean \"spark_plug\""],
        ),
        (
            base.replace(
                "[defaults]",
                "[codes.causes]\n\"X\" = \"spark_plug\"\n[defaults]",
            ),
            vec!["codes.causes", "did you mean \"cause\""],
        ),
        (
            base.replace("date = \"In\"\n", ""),
            vec!["date is not mapped", "[defaults]"],
        ),
        (
            base.replace("source = \"desk\"", "source = \"\""),
            vec!["source"],
        ),
        (
            base.replace("\"In\"", "{ column = \"In\", dates = \"dym\" }"),
            vec!["date.dates", "dym"],
        ),
        (
            base.replace("\"In\"", "{ column = \"In\", unit = \"km\" }"),
            vec!["date takes no `unit`"],
        ),
        (
            base.replace("\"VIN\"", "{ column = \"VIN\", pattern = \"x\" }"),
            vec!["exactly one group"],
        ),
        (
            base.replace(
                "[[table]]",
                "[[table]]\nwhen = { column = \"In\", equal = \"1\" }",
            ),
            vec!["table 1 (visits).when", "not_empty"],
        ),
        (
            base.replace("decimal", "decimel")
                .replace("delimiter = \";\"", "delimiter = \"ab\""),
            vec!["delimiter"],
        ),
    ] {
        let message = told(&shop, &mapping);
        for part in parts {
            assert!(message.contains(part), "{part:?} is missing in:\n{message}");
        }
        assert!(message.contains("a.mapping.toml"), "{message}");
    }
}

const FINDINGS: &str = "[[table]]\ninto = \"findings\"\n[table.columns]\ncase_id = \"Order\"\ncause = \"Engine\"\nconfirmation = { value = \"1\" }\n";

#[test]
fn files_that_cannot_be_read_leave_nothing_behind() {
    let shop = Shop::new();
    for (name, bytes, part) in [
        ("empty.csv", b"".as_slice(), "empty"),
        (
            "header.csv",
            b"Order;VIN;In;Km;Engine;MY\n".as_slice(),
            "no record",
        ),
        (
            "book.xlsx",
            b"PK\x03\x04 this is no workbook".as_slice(),
            "book.xlsx",
        ),
        (
            "table.parquet",
            b"PAR1 this is no Parquet".as_slice(),
            "table.parquet",
        ),
    ] {
        let file = shop.write(name, bytes);
        let message = shop
            .ingest_file(&file, &visits("").replace("delimiter = \";\"", ""))
            .unwrap_err()
            .to_string();
        assert!(
            message.contains(part) && message.contains(name),
            "{message}"
        );
    }
    assert!(shop.store().batches().unwrap().is_empty());
    assert_eq!(
        shop.store()
            .table_files(boretally::domain::table::Table::Visits)
            .unwrap()
            .len(),
        0
    );
}
