//! Every mess a delimited export has been seen to bring, read with its line numbers.

use std::io::Write as _;

use proptest::prelude::*;

use super::super::{DamageReason, Format, RawRecord, ReadOutcome, open};

/// What the reader gives: (line, cells) of records, (line, reason, raw) of damage.
#[derive(Debug, PartialEq)]
enum Seen {
    Row(u64, Vec<String>),
    Bad(u64, DamageReason, String),
}

fn row(line: u64, cells: &[&str]) -> Seen {
    Seen::Row(line, cells.iter().map(|c| c.to_string()).collect())
}

fn bad(line: u64, reason: DamageReason, raw: &str) -> Seen {
    Seen::Bad(line, reason, raw.to_string())
}

fn read_named(name: &str, bytes: &[u8], format: &str) -> (Vec<String>, Vec<Seen>, Vec<String>) {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    let format: Format = toml::from_str(format).unwrap();
    let mut reader = open(&path, &format).unwrap();
    let (mut record, mut seen) = (RawRecord::new(), Vec::new());
    loop {
        match reader.read(&mut record).unwrap() {
            ReadOutcome::Record => seen.push(Seen::Row(
                record.line(),
                record.iter().map(str::to_string).collect(),
            )),
            ReadOutcome::Damaged(d) => seen.push(Seen::Bad(d.line, d.reason, d.raw)),
            ReadOutcome::End => break,
        }
    }
    let progress = reader.progress();
    assert_eq!(progress.total, bytes.len() as u64);
    assert_eq!(progress.read, progress.total);
    (
        reader.header().names().to_vec(),
        seen,
        reader.notes().to_vec(),
    )
}

fn read(bytes: &[u8], format: &str) -> Vec<Seen> {
    read_named("export.csv", bytes, format).1
}

fn failure(bytes: &[u8], format: &str) -> String {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("export.csv");
    std::fs::write(&path, bytes).unwrap();
    let format: Format = toml::from_str(format).unwrap();
    match open(&path, &format) {
        Ok(_) => panic!("was opened"),
        Err(problem) => problem.to_string(),
    }
}

#[test]
fn lines_are_counted_through_quoted_line_ends_and_all_line_ends() {
    let text = b"a,b\r\n1,\"x\ny\r\nz\"\n\n2,\"q\"\"q\"\r3,\r\n";
    assert_eq!(
        read(text, ""),
        [
            row(2, &["1", "x\ny\r\nz"]),
            row(6, &["2", "q\"q"]),
            row(7, &["3", ""]),
        ]
    );
}

#[test]
fn ragged_rows_are_damaged_and_the_file_goes_on() {
    let text = b"a,b,c\n1,2\n1,2,3,4\n1,2,3,,\n1,2,3\n1,2";
    assert_eq!(
        read(text, ""),
        [
            bad(2, DamageReason::TooFewCells, "1,2"),
            bad(3, DamageReason::TooManyCells, "1,2,3,4"),
            row(4, &["1", "2", "3"]),
            row(5, &["1", "2", "3"]),
            bad(6, DamageReason::TooFewCells, "1,2"),
        ]
    );
}

#[test]
fn trailing_columns_without_a_name_may_be_missing() {
    let (names, seen, _) = read_named("e.csv", b"a,b,\n1,2\n1,2,x\n", "");
    assert_eq!(names, ["a", "b", "column 3"]);
    assert_eq!(seen, [row(2, &["1", "2"]), row(3, &["1", "2", "x"])]);
}

#[test]
fn an_open_quote_damages_its_line_and_not_the_rest() {
    let text = b"a,b\n1,\"open\n2,3\n4,\"fine\"\n5,\"sloppy\" 6\n7,8\n";
    assert_eq!(
        read(text, ""),
        [
            bad(2, DamageReason::UnbalancedQuote, "1,\"open"),
            row(3, &["2", "3"]),
            row(4, &["4", "fine"]),
            bad(5, DamageReason::UnbalancedQuote, "5,\"sloppy\" 6"),
            row(6, &["7", "8"]),
        ]
    );
}

#[test]
fn an_open_quote_in_a_large_file_is_found_too() {
    let mut text = b"a,b\n1,\"open\n".to_vec();
    for _ in 0..500_000 {
        text.extend_from_slice(b"22,33\n");
    }
    let seen = read(&text, "");
    assert_eq!(seen.len(), 500_001);
    assert_eq!(seen[0], bad(2, DamageReason::UnbalancedQuote, "1,\"open"));
    assert_eq!(seen[500_000], row(500_002, &["22", "33"]));
}

#[test]
fn quotes_that_pair_up_by_accident_do_not_swallow_lines() {
    let text = b"a,b\n1,\"open\n2,3\n4,open\",5\n6,7\n";
    assert_eq!(
        read(text, ""),
        [
            bad(2, DamageReason::TooManyCells, "1,\"open"),
            row(3, &["2", "3"]),
            bad(4, DamageReason::TooManyCells, "4,open\",5"),
            row(5, &["6", "7"]),
        ]
    );
}

#[test]
fn one_undecodable_byte_damages_one_row() {
    let text = b"a,b\n1,\xc3\xa9\n2,caf\xe9\n3,ok\n";
    assert_eq!(
        read(text, ""),
        [
            row(2, &["1", "é"]),
            bad(3, DamageReason::UndecodableBytes, "2,caf\\xE9"),
            row(4, &["3", "ok"]),
        ]
    );
}

#[test]
fn zero_bytes_damage_their_row() {
    let text = b"a,b\n1,2\n3,\0\n4,5\n";
    let seen = read(text, "");
    assert_eq!(seen[1], bad(3, DamageReason::ZeroByte, "3,\0"));
    assert_eq!(seen.len(), 3);
}

#[test]
fn windows_1252_and_its_holes() {
    let text = b"Teil;Preis \x80\nZ\xfcndkerze;\x93 5,80\x94\nx;\x81\n";
    let (names, seen, _) = read_named("e.csv", text, "encoding = 'windows-1252'\ndelimiter = ';'");
    assert_eq!(names, ["Teil", "Preis €"]);
    assert_eq!(
        seen,
        [
            row(2, &["Zündkerze", "\u{201c} 5,80\u{201d}"]),
            bad(3, DamageReason::UndecodableBytes, "x;\\x81"),
        ]
    );
}

#[test]
fn utf_16_is_known_by_its_mark() {
    let text = "\u{feff}Zeile\tKm\r\n1\t€\r\n";
    for to_bytes in [u16::to_le_bytes, u16::to_be_bytes] {
        let bytes: Vec<u8> = text.encode_utf16().flat_map(to_bytes).collect();
        let (names, seen, notes) = read_named("e.txt", &bytes, "");
        assert_eq!(names, ["Zeile", "Km"]);
        assert_eq!(seen, [row(2, &["1", "€"])]);
        assert!(notes.iter().any(|n| n.contains("utf-16")), "{notes:?}");
        assert!(notes.iter().any(|n| n.contains("\"tab\"")), "{notes:?}");
    }
}

#[test]
fn utf_8_mark_titles_and_blank_rows() {
    let text = b"\xef\xbb\xbfExport of May\n\n\"a\";\"b\"\n;\n1;2\n ; \n";
    let (names, seen, notes) = read_named("e.csv", text, "header_row = 3");
    assert_eq!(names, ["a", "b"]);
    assert_eq!(seen, [row(5, &["1", "2"])]);
    assert_eq!(notes, ["delimiter \";\" found from the first lines"]);
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut gz = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    gz.write_all(bytes).unwrap();
    gz.finish().unwrap()
}

#[test]
fn gzip_of_two_members_and_zstd() {
    let mut members = gzip(b"a,b\n1,");
    members.extend(gzip(b"2\n3,4\n"));
    let expected = [row(2, &["1", "2"]), row(3, &["3", "4"])];
    assert_eq!(read_named("e.csv.gz", &members, "").1, expected);
    assert_eq!(read_named("e", &members, "compression = 'gz'").1, expected);
    let zst = zstd::encode_all(&b"a,b\n1,2\n3,4\n"[..], 3).unwrap();
    assert_eq!(read_named("e.csv.zst", &zst, "").1, expected);
}

#[test]
fn a_cut_off_gzip_is_a_problem_of_the_file() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("e.csv.gz");
    let whole = gzip(b"a,b\n1,2\n3,4\n5,6\n7,8\n");
    std::fs::write(&path, &whole[..whole.len() - 9]).unwrap();
    let outcome = open(&path, &Format::default()).and_then(|mut reader| {
        let mut record = RawRecord::new();
        while reader.read(&mut record)? != ReadOutcome::End {}
        Ok(())
    });
    let message = outcome.unwrap_err().to_string();
    assert!(message.contains("cannot be read further"), "{message}");
}

#[test]
fn characters_across_the_edge_of_a_piece_stay_whole() {
    // Two-byte characters at odd and even offsets around 1 MiB.
    for pad in 0..3 {
        let mut text = "a,b\n".to_string();
        text.push_str(&"x".repeat(pad));
        while text.len() < (1 << 20) - 100 {
            text.push_str("ü,ü\n");
        }
        let rows = 200;
        for _ in 0..rows {
            text.push_str("éé,\"ö\"\"\r\n\"\r\n");
        }
        let seen = read(text.as_bytes(), "");
        assert!(seen.iter().all(|s| matches!(s, Seen::Row(..))));
        let last = seen.last().unwrap();
        assert!(matches!(last, Seen::Row(_, cells) if cells == &["éé", "ö\"\r\n"]));
    }
}

/// The same rows wherever the edge of a piece of the file falls among them.
#[test]
fn the_edge_of_a_piece_changes_nothing() {
    let mess = "1,\"a\nb\"\r\n2,\"sloppy\" x\r\n\r\n3,\"q\"\"q\"\r4,5,6\n7\n8,\"open\r\n9,é\n";
    let head = "a,b\n";
    let expected: Vec<Seen> = read(format!("{head}{mess}").as_bytes(), "delimiter = ','");
    assert_eq!(expected.len(), 7);
    // What is looked at for the encoding, and the first piece.
    for edge in [4096, 1 << 20] {
        for before in 0..=mess.len() {
            let filler = edge - before - head.len();
            let mut text = head.to_string();
            text.push_str("x,");
            text.push_str(&"y".repeat(filler - 3));
            text.push('\n');
            assert_eq!(text.len() + before, edge);
            text.push_str(mess);
            text.push_str(&"z,z\n".repeat(3));
            let seen = read(text.as_bytes(), "delimiter = ','");
            let seen: Vec<Seen> = seen
                .into_iter()
                .skip(1)
                .take(expected.len())
                .map(|s| match s {
                    Seen::Row(line, cells) => Seen::Row(line - 1, cells),
                    Seen::Bad(line, reason, raw) => Seen::Bad(line - 1, reason, raw),
                })
                .collect();
            assert_eq!(seen, expected, "edge {edge}, {before} bytes before it");
        }
    }
}

#[test]
fn a_line_without_end_is_cut_and_the_file_goes_on() {
    let mut text = b"a,b\n".to_vec();
    text.extend(std::iter::repeat_n(b'x', 5 << 20));
    text.extend_from_slice(b"\n1,2\n");
    let seen = read(&text, "");
    assert_eq!(seen.len(), 2);
    assert!(
        matches!(&seen[0], Seen::Bad(2, DamageReason::RecordTooLong, raw) if raw.len() == 1 << 20)
    );
    assert_eq!(seen[1], row(3, &["1", "2"]));
}

#[test]
fn the_length_limit_does_not_depend_on_the_piece() {
    // A record of exactly one byte less than the limit is whole, one of the limit is not, wherever they lie.
    for before in [0usize, 1000, 700_000, (1 << 20) - 8] {
        for (length, whole) in [((1 << 20) - 1, true), (1 << 20, false)] {
            for end in ["\n", "\r\n", "\r", ""] {
                let mut text = b"a,b\n".to_vec();
                if before > 4 {
                    text.extend(std::iter::repeat_n(b'y', before - 4));
                    text.extend_from_slice(b",1\n");
                }
                text.extend(std::iter::repeat_n(b'x', length - 2));
                text.extend_from_slice(b",1");
                text.extend_from_slice(end.as_bytes());
                let seen = read(&text, "delimiter = ','");
                let last = seen.last().unwrap();
                assert_eq!(
                    matches!(last, Seen::Row(..)),
                    whole,
                    "{before} {length} {end:?}"
                );
            }
        }
    }
}

#[test]
fn says_what_is_wrong_with_a_file_it_cannot_begin() {
    let binary: Vec<u8> = (0..=255u8).cycle().take(3000).collect();
    assert!(failure(&binary, "").contains("not text"));
    assert!(failure(b"caf\xe9,b\n1,2\n", "").contains("windows-1252"));
    assert!(failure(b"a,\"b\n", "").contains("line of column names"));
    assert!(failure(b"a,b\n1,2\n", "header_row = 9").contains("header_row"));
    assert!(failure(b"\n\n", "").contains("no line of column names"));
}

#[test]
fn header_only_and_a_wrong_delimiter_are_noted() {
    let (names, seen, notes) = read_named("e.csv", b"a,b\n", "");
    assert_eq!((names.len(), seen.len()), (2, 0));
    assert!(notes.iter().any(|n| n.contains("no record")), "{notes:?}");
    let (_, _, notes) = read_named("e.csv", b"a,b\n1,2\n", "delimiter = ';'");
    assert!(notes.iter().any(|n| n.contains("is it \",\"")), "{notes:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// What the csv crate writes is read back equal, each record at the line where it starts.
    #[test]
    fn reads_what_a_writer_of_good_name_wrote(
        rows in prop::collection::vec(prop::collection::vec("[a-zé€ ;,\"\n\r\t|]{0,6}", 3), 1..20),
        crlf: bool,
        delimiter in prop::sample::select(vec![b',', b';', b'\t', b'|']),
    ) {
        let mut writer = csv::WriterBuilder::new()
            .delimiter(delimiter)
            .terminator(if crlf { csv::Terminator::CRLF } else { csv::Terminator::Any(b'\n') })
            .from_writer(Vec::new());
        writer.write_record(["a", "b", "c"]).unwrap();
        let mut expected = Vec::new();
        let mut line = 2;
        for cells in &rows {
            let cells: Vec<&str> = cells.iter().map(String::as_str).collect();
            writer.write_record(&cells).unwrap();
            let blank = cells.iter().all(|c| c.trim_matches([' ', '\t']).is_empty()
                && !(c.contains('\t') && delimiter == b'\t'));
            if !blank {
                expected.push(row(line, &cells));
            }
            // Something between the cells, so that a CR and an LF of two cells do not join.
            let inner = cells.join("\u{1}");
            line += 1 + inner.replace("\r\n", "\n").matches(['\n', '\r']).count() as u64;
        }
        let bytes = writer.into_inner().unwrap();
        let mark = if delimiter == b'\t' { "tab".to_string() } else { char::from(delimiter).to_string() };
        prop_assert_eq!(read(&bytes, &format!("delimiter = '{mark}'")), expected);
    }
}
