//! Parquet written here, read back with all its types.

use std::sync::Arc;

use ::parquet::arrow::ArrowWriter;
use arrow::array::*;
use arrow::datatypes::{Int32Type, Int64Type};
use arrow::record_batch::RecordBatch;

use super::super::{CellKind, DamageReason, Format, RawRecord, ReadOutcome, RecordReader, open};
use CellKind::{Day, Empty, Error, Flag, Number, Text};

/// Name, two values, what they read as.
type Case = (&'static str, ArrayRef, [(&'static str, CellKind); 2]);

fn write(columns: Vec<(&str, ArrayRef)>) -> Vec<u8> {
    let batch =
        RecordBatch::try_from_iter_with_nullable(columns.into_iter().map(|(n, a)| (n, a, true)))
            .unwrap();
    let mut bytes = Vec::new();
    let mut writer = ArrowWriter::try_new(&mut bytes, batch.schema(), None).unwrap();
    writer.write(&batch).unwrap();
    writer.close().unwrap();
    bytes
}

fn open_bytes(bytes: &[u8]) -> Result<Box<dyn RecordReader>, String> {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("e.parquet");
    std::fs::write(&path, bytes).unwrap();
    open(&path, &Format::default()).map_err(|p| p.to_string())
}

#[test]
fn every_type_becomes_text_and_keeps_its_kind() {
    let millis = 1_709_225_100_000; // 2024-02-29 16:45:00 UTC
    let dictionary: DictionaryArray<Int32Type> = vec![Some("north"), None].into_iter().collect();
    let columns: Vec<Case> = vec![
        (
            "text",
            Arc::new(StringArray::from(vec![Some("1,5"), None])),
            [("1,5", Text), ("", Empty)],
        ),
        (
            "large",
            Arc::new(LargeStringArray::from(vec!["é", ""])),
            [("é", Text), ("", Empty)],
        ),
        (
            "view",
            Arc::new(StringViewArray::from(vec!["v", "w"])),
            [("v", Text), ("w", Text)],
        ),
        ("word", Arc::new(dictionary), [("north", Text), ("", Empty)]),
        (
            "i8",
            Arc::new(Int8Array::from(vec![-5, 5])),
            [("-5", Number), ("5", Number)],
        ),
        (
            "i64",
            Arc::new(Int64Array::from(vec![i64::MIN, i64::MAX])),
            [
                ("-9223372036854775808", Number),
                ("9223372036854775807", Number),
            ],
        ),
        (
            "u64",
            Arc::new(UInt64Array::from(vec![u64::MAX, 0])),
            [("18446744073709551615", Number), ("0", Number)],
        ),
        (
            "f32",
            Arc::new(Float32Array::from(vec![0.1, -0.0])),
            [("0.1", Number), ("0", Number)],
        ),
        (
            "f64",
            Arc::new(Float64Array::from(vec![120345.6, f64::NAN])),
            [("120345.6", Number), ("NaN", Error)],
        ),
        (
            "money",
            Arc::new(
                Decimal128Array::from(vec![1250, -7])
                    .with_precision_and_scale(9, 2)
                    .unwrap(),
            ),
            [("12.5", Number), ("-0.07", Number)],
        ),
        (
            "whole",
            Arc::new(
                Decimal128Array::from(vec![1200, 0])
                    .with_precision_and_scale(9, 0)
                    .unwrap(),
            ),
            [("1200", Number), ("0", Number)],
        ),
        (
            "d32",
            Arc::new(Date32Array::from(vec![11017, -1])),
            [("2000-03-01", Day), ("1969-12-31", Day)],
        ),
        (
            "d64",
            Arc::new(Date64Array::from(vec![86_400_000, 0])),
            [("1970-01-02", Day), ("1970-01-01", Day)],
        ),
        (
            "ts",
            Arc::new(TimestampMillisecondArray::from(vec![millis, -1])),
            [("2024-02-29", Day), ("1969-12-31", Day)],
        ),
        (
            "offset",
            Arc::new(TimestampMillisecondArray::from(vec![millis, 0]).with_timezone("+09:00")),
            [("2024-03-01", Day), ("1970-01-01", Day)],
        ),
        (
            "zone",
            Arc::new(
                TimestampSecondArray::from(vec![millis / 1000, 0]).with_timezone("Asia/Tokyo"),
            ),
            [("2024-02-29", Day), ("1970-01-01", Day)],
        ),
        (
            "flag",
            Arc::new(BooleanArray::from(vec![true, false])),
            [("true", Flag), ("false", Flag)],
        ),
        (
            "bytes",
            Arc::new(BinaryArray::from_vec(vec![b"ok", b""])),
            [("ok", Text), ("", Empty)],
        ),
        (
            "time",
            Arc::new(Time32SecondArray::from(vec![3661, 0])),
            [("01:01:01", Text), ("00:00:00", Text)],
        ),
        (
            "none",
            Arc::new(NullArray::new(2)),
            [("", Empty), ("", Empty)],
        ),
    ];
    let bytes = write(columns.iter().map(|(n, a, _)| (*n, a.clone())).collect());
    let mut reader = open_bytes(&bytes).unwrap();
    let names: Vec<&str> = columns.iter().map(|c| c.0).collect();
    assert_eq!(reader.header().names(), names);
    let mut record = RawRecord::new();
    for row in 0..2 {
        assert_eq!(reader.read(&mut record).unwrap(), ReadOutcome::Record);
        assert_eq!(record.line(), row as u64 + 1);
        for (i, (name, _, expected)) in columns.iter().enumerate() {
            assert_eq!(
                (record.get(i), record.kind(i)),
                expected[row],
                "{name}, row {row}"
            );
        }
    }
    assert_eq!(reader.read(&mut record).unwrap(), ReadOutcome::End);
    assert_eq!(reader.progress().read, bytes.len() as u64);
}

#[test]
fn many_batches_lists_left_out_and_bytes_that_are_no_text() {
    let n = 10_000;
    let numbers: ArrayRef = Arc::new(Int64Array::from_iter_values(0..n));
    let bytes: ArrayRef = Arc::new(BinaryArray::from_iter_values((0..n).map(|i| {
        if i == 5000 {
            b"caf\xe9".to_vec()
        } else {
            b"x".to_vec()
        }
    })));
    let lists: ArrayRef = Arc::new(ListArray::from_iter_primitive::<Int64Type, _, _>(
        (0..n).map(|i| Some(vec![Some(i)])),
    ));
    let file = write(vec![("lists", lists), ("n", numbers), ("b", bytes)]);
    let mut reader = open_bytes(&file).unwrap();
    assert_eq!(reader.header().names(), ["n", "b"]);
    assert!(reader.notes()[0].contains("\"lists\""));
    let (mut record, mut rows) = (RawRecord::new(), 0);
    loop {
        match reader.read(&mut record).unwrap() {
            ReadOutcome::Record => assert_eq!(record.get(0), (record.line() - 1).to_string()),
            ReadOutcome::Damaged(d) => {
                assert_eq!((d.line, d.reason), (5001, DamageReason::UndecodableBytes));
                assert_eq!(d.raw, "5000,caf\\xE9");
            }
            ReadOutcome::End => break,
        }
        rows += 1;
    }
    assert_eq!(rows, n);
}

#[test]
fn a_cut_off_file_has_a_way_out() {
    let file = write(vec![(
        "n",
        Arc::new(Int64Array::from(vec![1, 2])) as ArrayRef,
    )]);
    let message = open_bytes(&file[..file.len() - 5]).err().unwrap();
    assert!(
        message.contains("cannot be read") && message.contains("way out"),
        "{message}"
    );
}
