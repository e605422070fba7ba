//! Makes a store's tables known to an engine under the names that `queries/*.sql` use.

use super::engine::{Engine, Rows};
use crate::domain::problem::Result;
use crate::domain::table::Table;
use crate::store::{Store, arrow_schema};

/// Registers `visits`, `cases`, `findings`, `tests` and `quarantine`; a table without rows has its schema all the same.
pub fn open_tables(engine: &mut dyn Engine, store: &Store) -> Result<()> {
    for table in Table::ALL {
        let rows = Rows::Parquet {
            files: store.table_files(table)?,
            schema: arrow_schema(table),
        };
        engine.register(table.name(), rows)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use arrow::array::AsArray;
    use arrow::datatypes::Int64Type;

    use super::*;
    use crate::domain::day::Day;
    use crate::query::local::Local;
    use crate::store::rows::index_of;
    use crate::store::{BatchAccount, BatchHeader, Begin, InitOptions};

    fn count(engine: &mut Local, sql: &str) -> i64 {
        let result = engine.query(sql).unwrap();
        result.column(0).as_primitive::<Int64Type>().value(0)
    }

    #[test]
    fn what_a_batch_writes_the_engine_reads() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::init(folder.path().join("s"), &InitOptions::default()).unwrap();
        let mut engine = Local::new();
        open_tables(&mut engine, &store).unwrap();
        assert_eq!(count(&mut engine, "SELECT COUNT(*) AS n FROM visits"), 0);

        for (content, n) in [("a", 3), ("b", 20_000)] {
            let header = BatchHeader {
                source: "desk".into(),
                file: content.into(),
                content_hash: content.into(),
                mapping: "m".into(),
                mapping_hash: "m".into(),
                export_date: None,
            };
            let Begin::New(mut batch) = store.begin_batch(header).unwrap() else {
                panic!("the store was empty");
            };
            let column = |name| index_of(Table::Visits, name).unwrap();
            let sink = batch.sink(Table::Visits).unwrap();
            for i in 0..n {
                sink.text(column("vehicle"), if i % 2 == 0 { "x" } else { "y" });
                sink.text(column("site"), "Lärkmouth");
                sink.day(column("date"), Day(i as i32));
                if i > 0 {
                    sink.whole(column("odometer_m"), i);
                }
                sink.flag(column("engine_replaced"), i == 2);
                sink.text(column("record"), &i.to_string());
                sink.whole(column("digest"), i64::MIN + i);
                sink.whole(column("line"), i + 1);
                sink.end_row().unwrap();
            }
            let account = BatchAccount {
                read: n as u64,
                kept: n as u64,
                ..Default::default()
            };
            batch.commit(account).unwrap();
        }
        open_tables(&mut engine, &store).unwrap();
        let mut check = |what: &str, n| {
            assert_eq!(
                count(&mut engine, &format!("SELECT {what} AS n FROM visits")),
                n,
                "{what}"
            );
        };
        check("COUNT(*)", 20_003);
        check("COUNT(odometer_m)", 20_001);
        check("SUM(odometer_m)", 3 + 20_000 * 19_999 / 2);
        check("SUM(CASE WHEN engine_replaced THEN 1 ELSE 0 END)", 2);
        check(
            "SUM(CASE WHEN site = 'Lärkmouth' THEN 1 ELSE 0 END)",
            20_003,
        );
        check("MIN(digest)", i64::MIN);
        check("MAX(line)", 20_000);
        check("MAX(batch)", 2);
        check("COUNT(DISTINCT vehicle)", 2);
        check("MAX(CAST(date AS BIGINT))", 19_999);
    }
}
