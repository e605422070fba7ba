//! Whatever bytes a file holds: reading neither panics nor hangs, loses nothing, and does not depend on the encoding or the
//! compression the same text comes in.

use std::io::Write as _;
use std::path::PathBuf;
use std::sync::Arc;

use arrow::array::{ArrayRef, Float64Array, Int64Array, StringArray};
use arrow::record_batch::RecordBatch;
use boretally::ingest::read::{Format, RawRecord, ReadOutcome, open};
use proptest::prelude::*;
use proptest::sample::Index;
use tempfile::TempDir;

/// One outcome: line, reason of damage (none for a record), raw text, cells.
type Seen = (u64, Option<&'static str>, String, Vec<String>);

struct Export {
    _dir: TempDir,
    path: PathBuf,
}

fn export(name: &str, bytes: &[u8]) -> Export {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    Export { _dir: dir, path }
}

/// Reads to the end. `most` bounds the outcomes: more would mean that reading does not move on.
fn read(name: &str, bytes: &[u8], format: &str, most: usize) -> Result<Vec<Seen>, String> {
    let file = export(name, bytes);
    let format: Format = toml::from_str(format).unwrap();
    let mut reader = open(&file.path, &format).map_err(|p| p.to_string())?;
    let (mut record, mut seen, mut last) = (RawRecord::new(), Vec::new(), 0);
    loop {
        match reader.read(&mut record).map_err(|p| p.to_string())? {
            ReadOutcome::Record => seen.push((
                record.line(),
                None,
                record.raw().into_owned(),
                record.iter().map(str::to_string).collect(),
            )),
            ReadOutcome::Damaged(d) => seen.push((d.line, Some(d.reason.id()), d.raw, Vec::new())),
            ReadOutcome::End => break,
        }
        let line = seen.last().unwrap().0;
        assert!(line >= last, "line {line} after line {last}");
        last = line;
        assert!(seen.len() <= most, "more outcomes than the file can hold");
        let progress = reader.progress();
        assert!(progress.read <= progress.total);
    }
    // The end stays the end.
    assert_eq!(reader.read(&mut record).unwrap(), ReadOutcome::End);
    assert_eq!(reader.progress().read, reader.progress().total);
    Ok(seen)
}

/// Bytes as they are found in broken exports: mostly the marks that matter, now and then anything.
fn mess() -> impl Strategy<Value = Vec<u8>> {
    let byte = prop_oneof![
        6 => prop::sample::select(b"a1,;\t|\"\"\n\n\r{}[]:\\ ".to_vec()),
        1 => any::<u8>(),
    ];
    prop::collection::vec(byte, 1..200)
}

/// The text without line ends and without lines of nothing but delimiters and blanks.
fn flat(text: &str) -> String {
    let lines = text.split(['\n', '\r']);
    lines
        .filter(|l| !l.trim_matches([',', ' ', '\t']).is_empty())
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn text_of_any_bytes_is_read_to_its_end(
        bytes in mess(),
        kind in prop::sample::select(vec!["delimited", "json", "json-lines"]),
        encoding in prop::sample::select(vec!["utf-8", "utf-16le", "utf-16be", "windows-1252"]),
        header_row in 1..4u32,
    ) {
        let format = format!("kind = '{kind}'\nencoding = '{encoding}'\nheader_row = {header_row}");
        // A refusal must say what to do about it.
        if let Err(message) = read("e", &bytes, &format, bytes.len() + 1) {
            prop_assert!(message.contains("way out"), "{}", message);
        }
    }

    /// Whole records and damaged ones together hold every byte after the header, in order.
    #[test]
    fn no_text_is_lost(
        body in "([a1,\"\n\r é]|,|\"\"){0,120}",
    ) {
        let text = format!("h,h\n{body}");
        let seen = read("e.csv", text.as_bytes(), "delimiter = ','", text.len()).unwrap();
        let kept: String = seen.iter().map(|s| flat(&s.2)).collect();
        prop_assert_eq!(kept, flat(&body));
    }

    #[test]
    fn encoding_and_compression_change_nothing(
        body in "([a1,;\"\n\r é€]|,|\n){0,120}",
    ) {
        let text = format!("h;h\n{body}");
        let most = text.len();
        let plain = read("e.csv", text.as_bytes(), "delimiter = ';'", most).unwrap();
        let le: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let be: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let narrow: Vec<u8> = text.chars().map(|c| if c == '€' { 0x80 } else { c as u8 }).collect();
        for (bytes, encoding) in [(&le, "utf-16le"), (&be, "utf-16be"), (&narrow, "windows-1252")] {
            let format = format!("delimiter = ';'\nencoding = '{encoding}'");
            prop_assert_eq!(&read("e.csv", bytes, &format, most).unwrap(), &plain);
        }
        let mut gz = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
        gz.write_all(text.as_bytes()).unwrap();
        let gz = gz.finish().unwrap();
        prop_assert_eq!(&read("e.csv.gz", &gz, "delimiter = ';'", most).unwrap(), &plain);
        let zst = zstd::encode_all(text.as_bytes(), 1).unwrap();
        prop_assert_eq!(&read("e.csv.zst", &zst, "delimiter = ';'", most).unwrap(), &plain);
    }

    /// One object a line, some broken: each line is one outcome, and the good ones are whole.
    #[test]
    fn every_json_line_is_one_outcome(
        lines in prop::collection::vec((any::<i64>(), "[a-zé\"\\\\,{}]{0,8}", any::<Option<Index>>()), 1..20),
    ) {
        let (mut text, mut expected) = ("{\"n\":0}\n".to_string(), vec![true]);
        for (n, word, cut) in &lines {
            let line = serde_json::json!({"n": n, "w": word}).to_string();
            match cut {
                // Cut short, but not to nothing: a blank line is no record.
                Some(at) => {
                    let mut end = 1 + at.index(line.len() - 1);
                    while !line.is_char_boundary(end) { end -= 1; }
                    text.push_str(&line[..end]);
                }
                None => text.push_str(&line),
            }
            expected.push(cut.is_none());
            text.push('\n');
        }
        let seen = read("e.jsonl", text.as_bytes(), "", text.len()).unwrap();
        let whole: Vec<bool> = seen.iter().map(|s| s.1.is_none()).collect();
        prop_assert_eq!(whole, expected);
        for (s, (n, word, cut)) in seen.iter().skip(1).zip(&lines) {
            if cut.is_none() {
                prop_assert_eq!(&s.3, &vec![n.to_string(), word.clone()]);
            }
        }
    }
}

/// Flips and cuts, as a broken transfer does.
#[derive(Debug, Clone)]
struct Harm {
    flips: Vec<(Index, u8)>,
    cut: Option<Index>,
}

impl Harm {
    fn of(&self, whole: &[u8]) -> Vec<u8> {
        let mut bytes = whole.to_vec();
        for (at, value) in &self.flips {
            let at = at.index(bytes.len());
            bytes[at] ^= value;
        }
        if let Some(cut) = &self.cut {
            bytes.truncate(1 + cut.index(bytes.len()));
        }
        bytes
    }
}

fn harm() -> impl Strategy<Value = Harm> {
    (
        prop::collection::vec((any::<Index>(), 1..=255u8), 0..4),
        prop::option::weighted(0.2, any::<Index>()),
    )
        .prop_map(|(flips, cut)| Harm { flips, cut })
}

fn workbook() -> Vec<u8> {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    for row in 0..20 {
        sheet.write(row, 0, format!("text {row}")).unwrap();
        sheet.write(row, 1, f64::from(row) * 1.5).unwrap();
    }
    book.save_to_buffer().unwrap()
}

fn parquet() -> Vec<u8> {
    let columns: Vec<(&str, ArrayRef)> = vec![
        ("n", Arc::new(Int64Array::from_iter_values(0..50))),
        (
            "t",
            Arc::new(StringArray::from_iter_values(
                (0..50).map(|i| format!("text {}", i % 7)),
            )),
        ),
        (
            "f",
            Arc::new(Float64Array::from_iter_values(
                (0..50).map(|i| f64::from(i) / 3.0),
            )),
        ),
    ];
    let batch = RecordBatch::try_from_iter(columns).unwrap();
    let mut bytes = Vec::new();
    let mut writer =
        parquet::arrow::ArrowWriter::try_new(&mut bytes, batch.schema(), None).unwrap();
    writer.write(&batch).unwrap();
    writer.close().unwrap();
    bytes
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_harmed_workbook_is_refused_or_read(harm in harm()) {
        if let Err(message) = read("e.xlsx", &harm.of(&workbook()), "", 5_000_000) {
            prop_assert!(message.contains("way out"), "{}", message);
        }
    }

    #[test]
    fn a_harmed_parquet_is_refused_or_read(harm in harm()) {
        if let Err(message) = read("e.parquet", &harm.of(&parquet()), "", 5_000_000) {
            prop_assert!(message.contains("way out"), "{}", message);
        }
    }

    #[test]
    fn a_harmed_archive_is_refused_or_read(harm in harm(), zst: bool) {
        let text = "a,b\n1,2\n".repeat(200);
        let whole = if zst {
            zstd::encode_all(text.as_bytes(), 1).unwrap()
        } else {
            let mut gz = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
            gz.write_all(text.as_bytes()).unwrap();
            gz.finish().unwrap()
        };
        if let Err(message) = read("e.csv", &harm.of(&whole), "", 5_000_000) {
            prop_assert!(message.contains("way out"), "{}", message);
        }
    }
}
