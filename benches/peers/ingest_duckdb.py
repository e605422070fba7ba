"""DuckDB's part of the ingest: the plain exports, types given, to one zstd Parquet file a table. No check of any kind.

    python3 ingest_duckdb.py EXPORTS OUT
"""

import sys
from pathlib import Path

import duckdb

from plain import TABLES


def main(exports, out):
    exports, out = Path(exports), Path(out)
    out.mkdir(parents=True, exist_ok=True)
    db = duckdb.connect(config={"threads": 2})
    for table, columns in TABLES.items():
        types = "{" + ", ".join(f"'{name}': '{kind}'" for name, kind, _ in columns) + "}"
        rows = f"read_csv('{exports}/{table}-*.csv', header = true, columns = {types})"
        db.sql(f"COPY (SELECT * FROM {rows}) TO '{out}/{table}.parquet' (FORMAT parquet, COMPRESSION zstd)")
        count = db.sql(f"SELECT COUNT(*) FROM read_parquet('{out}/{table}.parquet')").fetchall()[0][0]
        print(table, count)


if __name__ == "__main__":
    main(*sys.argv[1:])
