//! JSON lines and arrays, whole and broken.

use super::super::{CellKind, DamageReason, Format, RawRecord, ReadOutcome, RecordReader, open};

#[derive(Debug, PartialEq)]
enum Seen {
    Row(u64, Vec<(String, String, CellKind)>),
    Bad(u64, DamageReason, String),
}

fn open_named(name: &str, bytes: &[u8]) -> Box<dyn RecordReader> {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    // The open file outlives its folder.
    open(&path, &Format::default()).unwrap()
}

fn rest(reader: &mut dyn RecordReader) -> Vec<Seen> {
    let (mut record, mut seen) = (RawRecord::new(), Vec::new());
    loop {
        match reader.read(&mut record).unwrap() {
            ReadOutcome::Record => {
                let names = reader.header().names();
                let cells = (0..record.len())
                    .filter(|&i| record.kind(i) != CellKind::Empty)
                    .map(|i| (names[i].clone(), record.get(i).to_string(), record.kind(i)))
                    .collect();
                seen.push(Seen::Row(record.line(), cells));
            }
            ReadOutcome::Damaged(d) => seen.push(Seen::Bad(d.line, d.reason, d.raw)),
            ReadOutcome::End => return seen,
        }
    }
}

fn read(name: &str, text: &str) -> Vec<Seen> {
    rest(open_named(name, text.as_bytes()).as_mut())
}

fn row(line: u64, cells: &[(&str, &str, CellKind)]) -> Seen {
    Seen::Row(
        line,
        cells
            .iter()
            .map(|(n, t, k)| (n.to_string(), t.to_string(), *k))
            .collect(),
    )
}

fn bad(line: u64, reason: DamageReason, raw: &str) -> Seen {
    Seen::Bad(line, reason, raw.to_string())
}

use CellKind::{Flag, Number, Text};

#[test]
fn nested_objects_lists_and_types() {
    let text = r#"{"vehicle":{"vin":"X1","km":120000},"codes":["P0301","P0300"],"ok":true,"cost":12.50,"gone":null}

{"lines":[{"op":"a"},{"op":"b","parts":[1,2.5]}],"big":18446744073709551615}
"#;
    assert_eq!(
        read("e.jsonl", text),
        [
            row(
                1,
                &[
                    ("vehicle.vin", "X1", Text),
                    ("vehicle.km", "120000", Number),
                    ("codes", "P0301, P0300", Text),
                    ("ok", "true", Flag),
                    ("cost", "12.5", Number),
                ]
            ),
            row(
                3,
                &[
                    ("lines.1.op", "a", Text),
                    ("lines.2.op", "b", Text),
                    ("lines.2.parts", "1, 2.5", Text),
                    ("big", "18446744073709551615", Number),
                ]
            ),
        ]
    );
}

#[test]
fn a_name_of_later_records_is_reached_by_name() {
    let mut text = String::new();
    for i in 0..3000 {
        text.push_str(&format!("{{\"a\":{i}}}\n"));
    }
    text.push_str("{\"late\":\"x\",\"a\":1}\n");
    let mut reader = open_named("e.ndjson", text.as_bytes());
    assert_eq!(reader.header().names(), ["a"]);
    assert!(reader.header().is_open());
    let late = reader.column("late").unwrap();
    assert_eq!(reader.column("late"), Some(late));
    let (mut record, mut last) = (RawRecord::new(), String::new());
    while reader.read(&mut record).unwrap() == ReadOutcome::Record {
        last = record.get(late).to_string();
    }
    assert_eq!(last, "x");
}

#[test]
fn a_broken_line_is_damaged_and_the_next_is_read() {
    let text = "{\"a\":1}\n{\"a\":\n[1]\n{\"a\":1,\"a\":2}\n{\"a\":1e30}\n{\"a\":123456789012345678901}\n{\"a\":2} x\n{\"a\":3}";
    assert_eq!(
        read("e.jsonl", text),
        [
            row(1, &[("a", "1", Number)]),
            bad(2, DamageReason::InvalidJson, "{\"a\":"),
            bad(3, DamageReason::NotAnObject, "[1]"),
            bad(4, DamageReason::InvalidJson, "{\"a\":1,\"a\":2}"),
            bad(5, DamageReason::InexactNumber, "{\"a\":1e30}"),
            bad(
                6,
                DamageReason::InexactNumber,
                "{\"a\":123456789012345678901}"
            ),
            bad(7, DamageReason::InvalidJson, "{\"a\":2} x"),
            row(8, &[("a", "3", Number)]),
        ]
    );
}

#[test]
fn bytes_that_are_no_text_damage_their_record() {
    let mut reader = open_named(
        "e.jsonl",
        b"{\"a\":\"x\"}\n{\"a\":\"caf\xe9\"}\n{\"a\":\"y\"}\n",
    );
    let seen = rest(reader.as_mut());
    assert_eq!(
        seen[1],
        bad(2, DamageReason::UndecodableBytes, "{\"a\":\"caf\\xE9\"}")
    );
    assert_eq!(seen.len(), 3);
}

#[test]
fn an_array_is_read_element_by_element() {
    let text = "[\n  {\"a\": \"}]\",\n   \"b\": [1]},\n  {\"a\": 2}, {\"a\":3},\n  7\n]\n";
    assert_eq!(
        read("e.json", text),
        [
            row(2, &[("a", "}]", Text), ("b", "1", Text)]),
            row(4, &[("a", "2", Number)]),
            row(4, &[("a", "3", Number)]),
            bad(5, DamageReason::NotAnObject, "7"),
        ]
    );
    assert_eq!(
        read("e.json", "{\"a\":1}{\"a\":2}"),
        [row(1, &[("a", "1", Number)]), row(1, &[("a", "2", Number)])]
    );
}

#[test]
fn a_cut_off_array_gives_what_is_whole_and_says_so() {
    assert_eq!(
        read("e.json", "[{\"a\":1},\n{\"a\":"),
        [
            row(1, &[("a", "1", Number)]),
            bad(2, DamageReason::CutOff, "{\"a\":"),
        ]
    );
    assert_eq!(
        read("e.json", "[{\"a\":1},\n"),
        [
            row(1, &[("a", "1", Number)]),
            bad(2, DamageReason::CutOff, ""),
        ]
    );
}

#[test]
fn one_record_without_its_bracket_does_not_end_the_array() {
    let text = "[\n {\"a\": {\"x\":1},\n {\"a\": 2},\n {\"a\": {\n  \"y\":\n   {\"z\": 3}}},\n {\"a\": \"open},\n {\"a\": 4}\n]\n";
    assert_eq!(
        read("e.json", text),
        [
            bad(
                2,
                DamageReason::InvalidJson,
                " {\"a\": {\"x\":1},\n".trim_start()
            ),
            row(3, &[("a", "2", Number)]),
            row(4, &[("a.y.z", "3", Number)]),
            bad(7, DamageReason::InvalidJson, "{\"a\": \"open},\n"),
            row(8, &[("a", "4", Number)]),
        ]
    );
}

#[test]
fn a_record_without_end_is_cut() {
    let mut text = "{\"a\":1}\n{\"a\":\"".to_string();
    text.push_str(&"x".repeat(3 << 20));
    text.push_str("\"}\n{\"a\":2}\n");
    let seen = read("e.jsonl", &text);
    assert!(
        matches!(&seen[1], Seen::Bad(2, DamageReason::RecordTooLong, raw) if raw.len() == 1 << 20)
    );
    assert_eq!(seen[2], row(3, &[("a", "2", Number)]));
    let seen = read(
        "e.json",
        &format!(
            "[{}]",
            text.replace('\n', ",\n").trim_end_matches([',', '\n'])
        ),
    );
    assert!(matches!(
        &seen[1],
        Seen::Bad(2, DamageReason::RecordTooLong, _)
    ));
    assert_eq!(seen[2], row(3, &[("a", "2", Number)]));
    assert_eq!(seen.len(), 3);
}

#[test]
fn a_long_array_is_streamed() {
    let mut text = "[".to_string();
    for i in 0..100_000 {
        if i > 0 {
            text.push_str(",\r\n");
        }
        text.push_str(&format!("{{\"n\":{i},\"t\":\"größer\"}}"));
    }
    text.push(']');
    let seen = read("e.json", &text);
    assert_eq!(seen.len(), 100_000);
    assert_eq!(
        seen[99_999],
        row(100_000, &[("n", "99999", Number), ("t", "größer", Text)])
    );
}

#[test]
fn the_edge_of_a_piece_changes_nothing() {
    let mess =
        "{\"a\": \"}\u{e9}\"},\r\n\r\n {\"a\":\r\n  {\"b\":2}},\r\n {\"a\":3],\r\n {\"a\":4}\r\n]";
    let lines = |seen: Vec<Seen>| -> Vec<(u64, String)> {
        let tell = |s| match s {
            Seen::Row(line, cells) => (line, format!("{cells:?}")),
            Seen::Bad(line, reason, raw) => (line, format!("{reason:?} {raw}")),
        };
        seen.into_iter().map(tell).collect()
    };
    let expected = lines(read("e.json", &format!("[\r\n{mess}")));
    assert_eq!(expected.len(), 4, "{expected:?}");
    for edge in [4096, 1 << 20] {
        for before in 0..=mess.len() {
            let filler = " ".repeat(edge - before - 3);
            let text = format!("[{filler}\r\n{mess}");
            assert_eq!(
                lines(read("e.json", &text)),
                expected,
                "edge {edge}, {before} bytes before it"
            );
        }
    }
}

#[test]
fn a_name_the_mapping_asks_for_and_no_record_has_is_noted() {
    let mut reader = open_named("e.json", b"[{\"odometer\":1}]");
    assert!(reader.column("odometre").is_some());
    assert_eq!(rest(reader.as_mut()).len(), 1);
    let notes = reader.notes().join("; ");
    assert!(
        notes.contains("\"odometre\"") && notes.contains("\"odometer\""),
        "{notes}"
    );
}

#[test]
fn what_is_no_json_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("e.json");
    std::fs::write(&path, "a,b\n1,2\n").unwrap();
    let message = open(&path, &Format::default()).err().unwrap().to_string();
    assert!(message.contains("begin like JSON"), "{message}");
}
