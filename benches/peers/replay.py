"""Runs the statements of a log (BORETALLY_STATEMENT_LOG) in another engine and checks that every result is the same.

    python3 replay.py duckdb|polars LOG WORK

Prints wall seconds of the whole, then of the slowest statements. Tables that Boretally wrote are written again by the engine in WORK, and
later statements read those, so that nothing of Boretally's own work is used but the records in the store.
"""

import json
import re
import shutil
import sys
import time
from pathlib import Path


class DuckDB:
    """Days are whole numbers here, as in the statements' arithmetic: DuckDB casts no date to a number."""

    def __init__(self):
        import duckdb

        self.db = duckdb.connect(config={"threads": 2})

    TYPES = {"Utf8": "VARCHAR", "Int64": "BIGINT", "Float64": "DOUBLE", "Date32": "BIGINT", "Boolean": "BOOLEAN"}

    def empty(self, name, columns):
        chosen = ", ".join(f'NULL::{self.TYPES[kind]} AS "{column}"' for column, kind in columns)
        self.db.sql(f"CREATE OR REPLACE VIEW {name} AS SELECT {chosen} WHERE false")

    def register(self, name, files):
        listed = ", ".join(f"'{f}'" for f in files)
        described = self.db.sql(f"DESCRIBE SELECT * FROM read_parquet([{listed}])").fetchall()
        days = ", ".join(f'("{c[0]}" - DATE \'1970-01-01\')::BIGINT AS "{c[0]}"' for c in described if c[1] == "DATE")
        star = f"* REPLACE ({days})" if days else "*"
        self.db.sql(f"CREATE OR REPLACE VIEW {name} AS SELECT {star} FROM read_parquet([{listed}])")

    def translated(self, sql):
        sql = re.sub(r"DATE '(\d{4}-\d\d-\d\d)'", lambda m: f"(DATE '{m[1]}' - DATE '1970-01-01')::BIGINT", sql)
        return re.sub(r"CAST\(([^()]*|[^()]*\([^()]*\)[^()]*) AS DATE\)", r"(\1)", sql)

    def query(self, sql):
        return self.db.sql(self.translated(sql)).fetchall()

    def write(self, sql, file, kept):
        compression = "lz4_raw" if kept else "uncompressed"
        self.db.sql(f"COPY ({self.translated(sql)}) TO '{file}' (FORMAT parquet, COMPRESSION {compression}, ROW_GROUP_SIZE 131072)")


class Polars:
    def __init__(self):
        import polars as pl

        self.pl = pl
        self.tables = {}

    def empty(self, name, columns):
        pl = self.pl
        types = {"Utf8": pl.String, "Int64": pl.Int64, "Float64": pl.Float64, "Date32": pl.Date, "Boolean": pl.Boolean}
        self.tables[name] = pl.LazyFrame(schema={column: types[kind] for column, kind in columns})

    def register(self, name, files):
        self.tables[name] = self.pl.scan_parquet(files)

    def plan(self, sql):
        return self.pl.SQLContext(self.tables).execute(sql)

    def query(self, sql):
        return self.plan(sql).collect(engine="streaming").rows()

    def write(self, sql, file, kept):
        self.plan(sql).sink_parquet(file, compression="lz4" if kept else "uncompressed", statistics=False, row_group_size=131072)


def place(file):
    """A file of derived history by its layer and name: it is written in a folder that is renamed when the layer is whole."""
    key = re.search(r"([0-9a-f]{20})[^/]*/[^/]*$", file)
    return (key[1] if key else file, Path(file).name)


def plain(value):
    """A value as both sides can compare it: days as numbers, flags as they are."""
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value):
        import datetime

        return (datetime.date.fromisoformat(value) - datetime.date(1970, 1, 1)).days
    if hasattr(value, "toordinal"):
        return value.toordinal() - 719163
    return value


def same(one, other):
    if isinstance(one, float) or isinstance(other, float):
        return one is not None and other is not None and abs(one - other) <= 1e-12 * max(abs(one), abs(other), 1e-300)
    return one == other


def check(sql, theirs, ours):
    key = lambda row: [(v is None, str(v)) for v in row]
    theirs = sorted((tuple(map(plain, r)) for r in theirs), key=key)
    ours = sorted((tuple(map(plain, r)) for r in ours), key=key)
    equal = len(theirs) == len(ours) and all(same(a, b) for x, y in zip(theirs, ours) for a, b in zip(x, y))
    if not equal:
        first = next(((x, y) for x, y in zip(theirs, ours) if x != y), None)
        raise SystemExit(f"results differ ({len(theirs)} and {len(ours)} rows), first {first}:\n{sql}")


def main(engine, log, work):
    work = Path(work)
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir(parents=True)
    engine = {"duckdb": DuckDB, "polars": Polars}[engine]()
    made, spent, processor, written = {}, [], 0.0, 0
    for line in open(log):
        step = json.loads(line)
        begin, own = time.perf_counter(), time.process_time()
        if "register" in step:
            if "files" not in step:
                sys.exit(f"the table {step['register']} is in memory, which is not replayed")
            if not step["files"]:
                engine.empty(step["register"], list(zip(step["columns"], step["types"])))
            else:
                engine.register(step["register"], [made.get(place(f), f) for f in step["files"]])
            continue
        if "write" in step:
            written += 1
            file = str(work / f"{written:03}-{Path(step['file']).name}")
            engine.write(step["write"], file, step["kept"])
            made[place(step["file"])] = file
            spent.append((time.perf_counter() - begin, step["write"]))
            processor += time.process_time() - own
        else:
            rows = engine.query(step["query"])
            spent.append((time.perf_counter() - begin, step["query"]))
            processor += time.process_time() - own
            check(step["query"], rows, step["rows"])
    print(f"seconds {sum(s for s, _ in spent):.3f} cpu {processor:.3f}")
    for seconds, sql in sorted(spent, reverse=True)[:5]:
        print(f"  {seconds:.3f} {' '.join(sql.split())[:90]}")


if __name__ == "__main__":
    main(*sys.argv[1:])
