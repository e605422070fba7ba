//! Workbooks written here by another library or by hand, read back.

use std::io::{Cursor, Read as _, Write as _};

use rust_xlsxwriter::{ExcelDateTime, Format as CellFormat, Formula, Workbook};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use super::super::{CellKind, Format, RawRecord, ReadOutcome, open};
use CellKind::{Day, Empty, Error, Flag, Number, Text};

/// Names, rows, notes.
type Sheet = (Vec<String>, Vec<Row>, Vec<String>);
type Row = (u64, Vec<(String, CellKind)>);

fn read(name: &str, bytes: &[u8], format: &str) -> Result<Sheet, String> {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    let format: Format = toml::from_str(format).unwrap();
    let mut reader = open(&path, &format).map_err(|p| p.to_string())?;
    let (mut record, mut rows) = (RawRecord::new(), Vec::new());
    while reader.read(&mut record).unwrap() == ReadOutcome::Record {
        let cells = (0..record.len())
            .map(|i| (record.get(i).to_string(), record.kind(i)))
            .collect();
        rows.push((record.line(), cells));
    }
    assert_eq!(reader.progress().read, bytes.len() as u64);
    Ok((
        reader.header().names().to_vec(),
        rows,
        reader.notes().to_vec(),
    ))
}

fn row(line: u64, cells: &[(&str, CellKind)]) -> Row {
    (
        line,
        cells.iter().map(|(t, k)| (t.to_string(), *k)).collect(),
    )
}

/// Title in row 1, names in row 3, values in rows 4 and 6.
fn xlsx() -> Vec<u8> {
    let mut book = Workbook::new();
    book.add_worksheet().set_name("About").unwrap();
    let sheet = book.add_worksheet().set_name("Jobs").unwrap();
    let date = CellFormat::new().set_num_format("yyyy-mm-dd");
    let hours = CellFormat::new().set_num_format("[h]:mm:ss");
    sheet.write(0, 0, "Export of May").unwrap();
    for (i, name) in ["Order", "In", "Km", "Done", "Hours", "Check", "Order"]
        .iter()
        .enumerate()
    {
        sheet.write(2, i as u16, *name).unwrap();
    }
    sheet.write(3, 0, "007").unwrap();
    let day = ExcelDateTime::from_ymd(2024, 2, 29)
        .unwrap()
        .and_hms(17, 45, 0)
        .unwrap();
    sheet.write_with_format(3, 1, &day, &date).unwrap();
    sheet.write(3, 2, 120345.6).unwrap();
    sheet.write(3, 3, true).unwrap();
    sheet.write_with_format(3, 4, 1.0625, &hours).unwrap();
    sheet
        .write_formula(3, 5, Formula::new("=1/0").set_result("#DIV/0!"))
        .unwrap();
    sheet
        .write_formula(3, 6, Formula::new("=1+1").set_result("2"))
        .unwrap();
    sheet.write(5, 0, 12).unwrap();
    book.save_to_buffer().unwrap()
}

const FORMAT: &str = "sheet = 'Jobs'\nheader_row = 3";

#[test]
fn keeps_what_the_workbook_knows() {
    let (names, rows, _) = read("e.xlsx", &xlsx(), FORMAT).unwrap();
    assert_eq!(
        names,
        ["Order", "In", "Km", "Done", "Hours", "Check", "Order (2)"]
    );
    assert_eq!(
        rows,
        [
            row(
                4,
                &[
                    ("007", Text),
                    ("2024-02-29", Day),
                    ("120345.6", Number),
                    ("true", Flag),
                    ("25:30:00", Text),
                    ("#DIV/0!", Error),
                    ("2", Number),
                ]
            ),
            row(
                6,
                &[
                    ("12", Number),
                    ("", Empty),
                    ("", Empty),
                    ("", Empty),
                    ("", Empty),
                    ("", Empty),
                    ("", Empty)
                ]
            ),
        ]
    );
}

/// The same workbook with one part replaced.
fn replaced(bytes: &[u8], part: &str, from: &str, to: &str) -> Vec<u8> {
    let mut old = ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut new = ZipWriter::new(Cursor::new(Vec::new()));
    for i in 0..old.len() {
        let mut entry = old.by_index(i).unwrap();
        let name = entry.name().unwrap().into_owned();
        let mut content = Vec::new();
        entry.read_to_end(&mut content).unwrap();
        if name == part {
            let text = String::from_utf8(content).unwrap();
            assert!(text.contains(from), "{text}");
            content = text.replacen(from, to, 1).into_bytes();
        }
        new.start_file(
            name,
            SimpleFileOptions::default().compression_method(CompressionMethod::Stored),
        )
        .unwrap();
        new.write_all(&content).unwrap();
    }
    new.finish().unwrap().into_inner()
}

#[test]
fn counts_from_1904_where_the_workbook_does() {
    let bytes = replaced(
        &xlsx(),
        "xl/workbook.xml",
        "<workbookPr ",
        "<workbookPr date1904=\"1\" ",
    );
    let (_, rows, _) = read("e.xlsx", &bytes, FORMAT).unwrap();
    // The two epochs are 1462 days apart: 2024-02-29 becomes 2028-03-01.
    assert_eq!(rows[0].1[1], ("2028-03-01".to_string(), Day));
}

#[test]
fn the_first_sheet_is_read_and_named_when_none_is_told() {
    let message = read("e.xlsx", &xlsx(), "").unwrap_err();
    assert!(
        message.contains("\"About\" has no row of column names"),
        "{message}"
    );
    let mut book = Workbook::new();
    book.add_worksheet().write(0, 0, "a").unwrap();
    book.add_worksheet();
    let (names, rows, notes) = read("e.xlsx", &book.save_to_buffer().unwrap(), "").unwrap();
    assert_eq!((names, rows.len()), (vec!["a".to_string()], 0));
    assert!(
        notes[0].contains("the first of \"Sheet1\", \"Sheet2\""),
        "{notes:?}"
    );
    assert!(notes[1].contains("no record"), "{notes:?}");
}

#[test]
fn an_unknown_sheet_lists_those_there_are() {
    let message = read("e.xlsx", &xlsx(), "sheet = 'Job'").unwrap_err();
    assert!(message.contains("it has \"About\", \"Jobs\""), "{message}");
}

#[test]
fn a_workbook_under_another_name_is_known_by_its_content() {
    assert_eq!(read("e.dat", &xlsx(), FORMAT).unwrap().1.len(), 2);
}

#[test]
fn a_damaged_workbook_has_a_way_out() {
    let whole = xlsx();
    for bytes in [&whole[..whole.len() / 2], &b"PK\x03\x04nothing"[..]] {
        let message = read("e.xlsx", bytes, FORMAT).unwrap_err();
        assert!(message.contains("cannot be read"), "{message}");
        assert!(message.contains("way out"), "{message}");
    }
}

/// A compound file (the container of encrypted workbooks) with one entry: header, allocation table, directory.
fn compound(entry: &str) -> Vec<u8> {
    const FREE: u32 = 0xffff_ffff;
    const END: u32 = 0xffff_fffe;
    const TABLE: u32 = 0xffff_fffd;
    let mut header = vec![0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1];
    header.resize(24, 0);
    for half in [0x3eu16, 3, 0xfffe, 9, 6] {
        header.extend(half.to_le_bytes());
    }
    header.resize(44, 0);
    for word in [1, 1, 0, 4096, END, 0, END, 0, 0] {
        header.extend(u32::to_le_bytes(word));
    }
    header.resize(512, 0xff);
    let mut table: Vec<u8> = [TABLE, END]
        .into_iter()
        .flat_map(u32::to_le_bytes)
        .collect();
    table.resize(512, 0xff);
    let mut directory = Vec::new();
    for (name, kind) in [("Root Entry", 5u8), (entry, 2)] {
        let mut item: Vec<u8> = name.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let length = item.len() as u16 + 2;
        item.resize(64, 0);
        item.extend(length.to_le_bytes());
        item.extend([kind, 1]);
        for word in [FREE, FREE, if kind == 5 { 1 } else { FREE }] {
            item.extend(word.to_le_bytes());
        }
        item.resize(116, 0);
        item.extend(END.to_le_bytes());
        item.resize(128, 0);
        directory.extend(item);
    }
    directory.resize(512, 0);
    [header, table, directory].concat()
}

#[test]
fn a_password_is_told_as_such() {
    let message = read("e.xlsx", &compound("EncryptedPackage"), "").unwrap_err();
    assert!(message.contains("protected by a password"), "{message}");
    assert!(message.contains("without a password"), "{message}");
    let message = read("e.xls", &compound("Else"), "").unwrap_err();
    assert!(message.contains("cannot be read"), "{message}");
}

/// The smallest OpenDocument spreadsheet.
fn ods() -> Vec<u8> {
    let content = r#"<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.2">
<office:body><office:spreadsheet><table:table table:name="Fahrten">
<table:table-row>
 <table:table-cell office:value-type="string"><text:p>Nr</text:p></table:table-cell>
 <table:table-cell office:value-type="string"><text:p>Datum</text:p></table:table-cell>
 <table:table-cell office:value-type="string"><text:p>Km</text:p></table:table-cell>
</table:table-row>
<table:table-row>
 <table:table-cell office:value-type="string"><text:p>ä1</text:p></table:table-cell>
 <table:table-cell office:value-type="date" office:date-value="2023-12-31T08:15:00"><text:p>31.12.23</text:p></table:table-cell>
 <table:table-cell office:value-type="float" office:value="88000.5"><text:p>88.000,5</text:p></table:table-cell>
</table:table-row>
</table:table></office:spreadsheet></office:body></office:document-content>"#;
    let manifest = r#"<?xml version="1.0" encoding="UTF-8"?>
<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.2">
<manifest:file-entry manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>
</manifest:manifest>"#;
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    for (name, text) in [
        ("mimetype", "application/vnd.oasis.opendocument.spreadsheet"),
        ("META-INF/manifest.xml", manifest),
        // Without the line breaks, as programs write it.
        (
            "content.xml",
            &content
                .lines()
                .map(|l| l.trim_start_matches(' ').replace("xmlns", " xmlns"))
                .collect::<String>(),
        ),
    ] {
        zip.start_file(name, stored).unwrap();
        zip.write_all(text.as_bytes()).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

#[test]
fn open_document_spreadsheets() {
    let (names, rows, _) = read("e.ods", &ods(), "").unwrap();
    assert_eq!(names, ["Nr", "Datum", "Km"]);
    assert_eq!(
        rows,
        [row(
            2,
            &[("ä1", Text), ("2023-12-31", Day), ("88000.5", Number)]
        )]
    );
}
