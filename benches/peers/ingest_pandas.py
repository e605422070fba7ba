"""Pandas' part of the ingest: the plain exports, types given, to one zstd Parquet file a table. No check of any kind.

    python3 ingest_pandas.py EXPORTS OUT
"""

import sys
from pathlib import Path

import pandas as pd

from plain import TABLES

TYPES = {"VARCHAR": "string", "DOUBLE": "float64", "INTEGER": "Int32", "BOOLEAN": "boolean"}


def main(exports, out):
    out = Path(out)
    out.mkdir(parents=True, exist_ok=True)
    for table, columns in TABLES.items():
        types = {name: TYPES[kind] for name, kind, _ in columns if kind != "DATE"}
        days = [name for name, kind, _ in columns if kind == "DATE"]
        files = sorted(Path(exports).glob(f"{table}-*.csv"))
        rows = pd.concat([pd.read_csv(f, dtype=types, parse_dates=days, date_format="%Y-%m-%d") for f in files])
        rows.to_parquet(out / f"{table}.parquet", compression="zstd", index=False)
        print(table, len(rows))


if __name__ == "__main__":
    main(*sys.argv[1:])
