"""Polars' part of the ingest: the plain exports, types given, streamed to one zstd Parquet file a table. No check of any kind.

    python3 ingest_polars.py EXPORTS OUT
"""

import sys
from pathlib import Path

import polars as pl

from plain import TABLES

TYPES = {"VARCHAR": pl.String, "DATE": pl.Date, "DOUBLE": pl.Float64, "INTEGER": pl.Int32, "BOOLEAN": pl.Boolean}


def main(exports, out):
    out = Path(out)
    out.mkdir(parents=True, exist_ok=True)
    for table, columns in TABLES.items():
        types = {name: TYPES[kind] for name, kind, _ in columns}
        file = out / f"{table}.parquet"
        pl.scan_csv(f"{exports}/{table}-*.csv", schema=types).sink_parquet(file, compression="zstd")
        print(table, pl.scan_parquet(file).select(pl.len()).collect().item())


if __name__ == "__main__":
    main(*sys.argv[1:])
