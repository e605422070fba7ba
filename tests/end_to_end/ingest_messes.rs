//! One test for each mess that shops' exports bring: what is kept, what is flagged, what goes to quarantine and why.

use super::ingest_shop::{Shop, VIN_A, VIN_B, visits};

fn visit_rows(lines: &[&str]) -> String {
    let mut text = String::from("Order;VIN;In;Km;Engine;MY\n");
    for line in lines {
        text += &line
            .replace(";A;", &format!(";{VIN_A};"))
            .replace(";B;", &format!(";{VIN_B};"));
        text.push('\n');
    }
    text
}

const ODOMETERS: &str = "SELECT record, odometer_m, flags FROM visits ORDER BY record";

#[test]
fn odometers_that_nobody_read_are_unknown_and_flagged() {
    let shop = Shop::new();
    let rows = visit_rows(&[
        "1;A;2024-05-01;85000;;",
        "2;A;2024-05-02;0;;",
        "3;A;2024-05-03;1;;",
        "4;A;2024-05-04;999999;;",
        "5;A;2024-05-05;;;",
    ]);
    let account = shop.ingest(rows, &visits("decimal = \".\""));
    assert_eq!((account.kept, account.flagged), (1, 4));
    assert_eq!(
        shop.rows(ODOMETERS),
        [
            "1|85000000|",
            "2||odometer-placeholder",
            "3||odometer-placeholder",
            "4||odometer-placeholder",
            "5||odometer-missing"
        ]
    );
}

#[test]
fn miles_and_kilometres_by_column_by_cell_and_by_default() {
    let shop = Shop::new();
    let mapping = visits("").replace(
        "odometer = \"Km\"",
        "odometer = { column = \"Km\", unit_column = \"Engine\" }",
    );
    let rows = visit_rows(&[
        "1;A;2024-05-01;100;miles;",
        "2;A;2024-05-02;100 mi;;",
        "3;A;2024-05-03;100;;",
        "4;A;2024-05-04;100;leagues;",
    ]);
    let mapping = mapping.replace("engine = \"Engine\"\n", "");
    let account = shop.ingest(rows, &mapping);
    // 1 mile = 1609.344 m exactly (NIST SP 811).
    assert_eq!(
        shop.rows(ODOMETERS),
        [
            "1|160934|",
            "2|160934|",
            "3|100000|",
            "4||field-quarantined"
        ]
    );
    assert_eq!(account.reasons.get("unit-unknown"), Some(&1));
}

#[test]
fn numbers_whose_mark_is_not_stated_wait_for_a_person() {
    let shop = Shop::new();
    let rows = visit_rows(&["1;A;2024-05-01;85.000;;", "2;A;2024-05-02;85000;;"]);
    let account = shop.ingest(&rows, &visits(""));
    assert_eq!(account.reasons.get("ambiguous-number"), Some(&1));
    assert_eq!(
        shop.rows(ODOMETERS),
        ["1||field-quarantined", "2|85000000|"]
    );
    // Told the marks, the same file says eighty-five thousand, and stands in for what it said before.
    let account = shop.ingest(&rows, &visits("decimal = \",\"\nthousands = \".\""));
    assert_eq!((account.kept, account.duplicate), (2, 0));
    assert_eq!(shop.rows(ODOMETERS), ["1|85000000|", "2|85000000|"]);
}

#[test]
fn dates_in_the_stated_order_only() {
    let shop = Shop::new();
    let rows = visit_rows(&[
        "1;A;31.05.2024 23:59;1000;;",
        "2;A;05/31/2024;1000;;",
        "3;A;3. M\u{e4}rz 2024;1000;;",
        "4;A;30.02.2024;1000;;",
        "5;A;1.6.24;1000;;",
        "6;A;01.01.1970;1000;;",
        "7;A;01.01.2030;1000;;",
        "8;A;;1000;;",
    ]);
    let account = shop.ingest(rows, &visits("dates = \"dmy\""));
    assert_eq!((account.kept, account.quarantined), (3, 5));
    assert_eq!(
        shop.rows("SELECT record, date FROM visits ORDER BY record"),
        ["1|2024-05-31", "3|2024-03-03", "5|2024-06-01"]
    );
    for reason in [
        "date-order",
        "date-impossible",
        "date-too-old",
        "date-in-future",
        "required-missing",
    ] {
        assert_eq!(account.reasons.get(reason), Some(&1), "{reason}");
    }
    let wrong = shop
        .quarantine()
        .into_iter()
        .find(|q| q.contains("date-order"))
        .unwrap();
    assert!(
        wrong.contains("31 cannot be a month; dates = \"mdy\"?"),
        "{wrong}"
    );
}

#[test]
fn spreadsheet_day_numbers_are_read_when_stated() {
    let shop = Shop::new();
    // 45443 is 2024-05-31 in the 1900 calendar (common practice).
    let account = shop.ingest(
        visit_rows(&["1;A;45443;1000;;"]),
        &visits("dates = \"serial-1900\""),
    );
    assert_eq!(account.kept, 1);
    assert_eq!(shop.rows("SELECT date FROM visits"), ["2024-05-31"]);
    let shop = Shop::new();
    let account = shop.ingest(
        visit_rows(&["1;A;45443;1000;;"]),
        &visits("dates = \"dmy\""),
    );
    assert_eq!(account.reasons.get("date-serial"), Some(&1));
}

#[test]
fn encodings_and_invisible_signs() {
    for (bytes, format) in [
        (
            utf16(&visit_rows(&[
                "1;A;2024-05-01;\u{a0}1000 ;\u{201c}Alder 1.6\u{201d};2014",
            ])),
            "encoding = \"utf-16le\"",
        ),
        (
            visit_rows(&["1;A;2024-05-01;1000;\u{201e}Alder\u{a0}1.6\u{201c};2014"]).into_bytes(),
            "",
        ),
        (
            [
                b"\xef\xbb\xbf".as_slice(),
                visit_rows(&["1;A;2024-05-01;1000;Alder 1.6;2014"]).as_bytes(),
            ]
            .concat(),
            "",
        ),
    ] {
        let shop = Shop::new();
        let account = shop.ingest(bytes, &visits(format));
        assert_eq!(account.kept, 1, "{account:?}");
        assert_eq!(
            shop.rows("SELECT odometer_m, engine_family FROM visits"),
            ["1000000|alder-4"]
        );
    }
    let shop = Shop::new();
    let rows = visit_rows(&["1;A;2024-05-01;1000;;"]).replace("1000;;", "1000;Gr\u{fc}n;");
    let latin: Vec<u8> = rows.chars().map(|c| c as u32 as u8).collect();
    let account = shop.ingest(&latin, &visits(""));
    assert_eq!(
        account.quarantined, 1,
        "bytes that are no UTF-8 are not replaced: {account:?}"
    );
    assert_eq!(
        Shop::new()
            .ingest(&latin, &visits("encoding = \"windows-1252\""))
            .quarantined,
        0
    );
}

fn utf16(text: &str) -> Vec<u8> {
    std::iter::once(0xfeffu16)
        .chain(text.encode_utf16())
        .flat_map(u16::to_le_bytes)
        .collect()
}

#[test]
fn vehicle_numbers_are_judged_and_never_repaired() {
    let shop = Shop::new();
    let rows = visit_rows(&[
        "1;A;2024-05-01;1000;;",
        "2;1.23E+16;2024-05-01;1000;;",
        "3;OOOAAOOA8AOOOOOO1;2024-05-01;1000;;",
        "4;123;2024-05-01;1000;;",
        "5;000AA00A9A0000001;2024-05-01;1000;;",
        "6;;2024-05-01;1000;;",
    ]);
    let account = shop.ingest(rows, &visits(""));
    assert_eq!(
        (account.kept, account.flagged, account.quarantined),
        (1, 1, 4)
    );
    for reason in [
        "vin-spreadsheet-damage",
        "vin-alphabet",
        "vin-length",
        "required-missing",
    ] {
        assert_eq!(
            account.reasons.get(reason),
            Some(&1),
            "{reason}: {account:?}"
        );
    }
    assert_eq!(account.flags.get("vin-check-digit"), Some(&1));
}

#[test]
fn a_letter_for_a_digit_gets_a_suggestion() {
    let shop = Shop::new();
    let rows = visit_rows(&["1;O00AA00A8A0000001;2024-05-01;1000;;"]);
    shop.ingest(rows, &visits(""));
    let entry = shop.quarantine().concat();
    assert!(
        entry.contains("000AA00A8A0000001 passes the check digit"),
        "{entry}"
    );
}

#[test]
fn unit_numbers_keep_their_zeros_and_stand_in_for_damaged_vehicle_numbers() {
    let shop = Shop::new();
    let mapping = visits("").replace(
        "vehicle = \"VIN\"",
        "vehicle = { column = \"VIN\", kind = \"unit\" }",
    );
    let rows = "Order;VIN;In;Km;Engine;MY\n1;007;2024-05-01;1000;;\n2;7;2024-05-01;1000;;\n3; 007 ;2024-05-02;1000;;\n4;1.2E+05;2024-05-02;1000;;\n";
    let account = shop.ingest(rows, &mapping);
    assert_eq!(account.reasons.get("vin-spreadsheet-damage"), Some(&1));
    let named = shop.key().pseudonym("unit/desk/007");
    assert_eq!(
        shop.rows("SELECT COUNT(DISTINCT vehicle) AS n FROM visits"),
        ["2"]
    );
    assert_eq!(
        shop.rows("SELECT record, vehicle FROM visits ORDER BY record")[2],
        format!("3|{named}")
    );
    let shop = Shop::new();
    let mapping = visits("")
        .replace(
            "vehicle = \"VIN\"",
            "vehicle = { column = \"VIN\", unit_id = \"Engine\" }",
        )
        .replace("engine = \"Engine\"\n", "");
    let account = shop.ingest(
        "Order;VIN;In;Km;Engine;MY\n1;1.23E+16;2024-05-01;1000;U7;\n",
        &mapping,
    );
    assert_eq!(account.flags.get("vehicle-by-unit"), Some(&1));
}

#[test]
fn engines_are_matched_and_never_guessed() {
    let shop = Shop::new();
    let rows = visit_rows(&[
        "1;A;2024-05-01;1000;alder  1.6;2014",
        "2;A;2024-05-02;1000;Common;2014",
        "3;A;2024-05-03;1000;Common;2005",
        "4;A;2024-05-04;1000;Common;",
        "5;A;2024-05-05;1000;Willow 2.0;2014",
        "6;A;2024-05-06;1000;;2014",
    ]);
    let account = shop.ingest(rows, &visits(""));
    assert_eq!(
        shop.rows("SELECT record, engine_family, flags FROM visits ORDER BY record"),
        [
            "1|alder-4|",
            "2|alder-4|",
            "3|birch-6|",
            "4||engine-ambiguous",
            "5||engine-unknown",
            "6||"
        ]
    );
    assert_eq!(account.unmatched["engine"]["Willow 2.0"], 1);
}

#[test]
fn test_rows_are_left_out_with_a_reason() {
    let shop = Shop::new();
    let mapping = visits("")
        .replace("[defaults]", "[exclude]\n\"MY\" = [\"TEST\"]\n[defaults]")
        .replace("model_year = \"MY\"\n", "");
    let account = shop.ingest(
        visit_rows(&["1;A;2024-05-01;1000;;", "2;A;2024-05-02;1000;;test"]),
        &mapping,
    );
    assert_eq!((account.kept, account.quarantined), (1, 1));
    assert_eq!(account.reasons.get("excluded"), Some(&1));
    // What is left out on purpose is not kept either.
    assert!(
        shop.quarantine()[0].ends_with("{\"MY\":\"test\"}"),
        "{:?}",
        shop.quarantine()
    );
}

#[test]
fn customers_do_not_reach_the_store_and_vehicle_numbers_only_as_pseudonyms() {
    let shop = Shop::new();
    let rows = format!(
        "Order;VIN;In;Km;Engine;MY;Customer\n1;{VIN_A};2024-05-01;1000;;;Ada Moss\n2;{VIN_B};soon;1000;;;Ben Fern\n"
    );
    let account = shop.ingest(rows, &visits(""));
    assert_eq!((account.kept, account.quarantined), (1, 1));
    let entry = shop.quarantine().concat();
    let pseudonym = shop.key().pseudonym(VIN_B);
    assert!(
        entry.contains(&format!("vehicle-key:{pseudonym}")),
        "{entry}"
    );
    assert!(!entry.contains("Fern") && !entry.contains(VIN_B), "{entry}");
    let bytes = shop.bytes();
    for secret in [VIN_A, VIN_B, "Ada Moss", "Fern"] {
        assert!(
            !bytes.windows(secret.len()).any(|w| w == secret.as_bytes()),
            "{secret} is in the store"
        );
    }
}

#[test]
fn a_repaired_record_comes_back_with_its_pseudonym() {
    let shop = Shop::new();
    shop.ingest(visit_rows(&["1;B;soon;1000;;"]), &visits(""));
    let pseudonym = shop.key().pseudonym(VIN_B);
    let repaired =
        format!("Order;VIN;In;Km;Engine;MY\n1;vehicle-key:{pseudonym};2024-05-01;1000;;\n");
    assert_eq!(shop.ingest(repaired, &visits("")).kept, 1);
    assert_eq!(shop.rows("SELECT vehicle FROM visits"), [pseudonym]);
}
