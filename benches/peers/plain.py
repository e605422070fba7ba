"""Plain typed CSV exports of a store: what a shop system would hand over if its exports were already clean.

    python3 plain.py STORE OUT

One file for each of visits, cases, findings and tests and a year, in the store's own words and units (kilometres for metres), with the
mapping files Boretally needs to read them. The other tools are told the types instead.
"""

import sys
from pathlib import Path

import duckdb

# Columns of the exports: name, type, what of the store's table it is.
TABLES = {
    "visits": [
        ("record", "VARCHAR", "source || '-' || record"),
        ("vehicle", "VARCHAR", "vehicle"),
        ("site", "VARCHAR", "site"),
        ("date", "DATE", "date"),
        ("odometer_km", "DOUBLE", "odometer_m / 1000.0"),
        ("engine", "VARCHAR", "engine_family"),
        ("model_year", "INTEGER", "model_year"),
        ("engine_replaced", "BOOLEAN", "engine_replaced"),
    ],
    "cases": [
        ("case_id", "VARCHAR", "source || '-' || case_id"),
        ("vehicle", "VARCHAR", "vehicle"),
        ("site", "VARCHAR", "site"),
        ("opened", "DATE", "opened"),
        ("closed", "DATE", "closed"),
        ("engine", "VARCHAR", "engine_family"),
        ("model_year", "INTEGER", "model_year"),
        ("odometer_km", "DOUBLE", "odometer_m / 1000.0"),
        ("codes", "VARCHAR", "codes"),
        ("complaint_cylinder", "INTEGER", "complaint_cylinder"),
        ("outcome", "VARCHAR", "outcome"),
    ],
    "findings": [
        ("record", "VARCHAR", "source || '-' || record"),
        ("case_id", "VARCHAR", "source || '-' || case_id"),
        ("cause", "VARCHAR", "cause"),
        ("failure_mode", "VARCHAR", "failure_mode"),
        ("cylinder", "INTEGER", "cylinder"),
        ("confirmation", "INTEGER", "confirmation"),
        ("repair", "VARCHAR", "repair"),
        ("labour_hours", "DOUBLE", "labour_hours"),
        ("cost", "DOUBLE", "cost / 100.0"),
        ("currency", "VARCHAR", "currency"),
        ("price_year", "INTEGER", "price_year"),
        ("payer", "VARCHAR", "payer"),
    ],
    "tests": [
        ("record", "VARCHAR", "source || '-' || record"),
        ("case_id", "VARCHAR", "source || '-' || case_id"),
        ("step", "INTEGER", "step"),
        ("test", "VARCHAR", "test"),
        ("cylinder", "INTEGER", "cylinder"),
        ("reading", "DOUBLE", "reading"),
        ("unit", "VARCHAR", "unit"),
        ("result", "VARCHAR", "result"),
        ("leak_path", "VARCHAR", "leak_path"),
        ("minutes", "DOUBLE", "CASE WHEN minutes_from = 'measured' THEN minutes END"),
    ],
}

# How Boretally reads a column that does not have the name of its field.
FIELDS = {
    "visits": {"record": '"record"', "engine_family": '"engine"', "vehicle": '{ column = "vehicle", kind = "unit" }', "odometer": '{ column = "odometer_km", unit = "km" }'},
    "cases": {"record": '"case_id"', "engine_family": '"engine"', "vehicle": '{ column = "vehicle", kind = "unit" }', "odometer": '{ column = "odometer_km", unit = "km" }'},
    "findings": {"record": '"record"'},
    "tests": {"record": '"record"', "reading": '{ column = "reading", unit_column = "unit" }'},
}

# Exports overlap; of each record the version that counts.
NEWEST = "QUALIFY ROW_NUMBER() OVER (PARTITION BY source, record ORDER BY export_date DESC NULLS LAST, batch DESC, line DESC) = 1"

# Tables whose rows are put in files by the year of a day; the others by the order of their rows.
DAY = {"visits": "date", "cases": "opened"}


def mapping(table):
    """The mapping file of one table."""
    fields = dict(FIELDS[table])
    skipped = {"record", "vehicle", "odometer_km", "reading", "unit", "engine"}
    for name, _, _ in TABLES[table]:
        if name not in skipped:
            fields.setdefault(name, f'"{name}"')
    lines = [f'source = "plain"', f'files = ["{table}-*.csv"]', "", "[format]", 'kind = "delimited"', 'delimiter = ","', 'decimal = "."', "",
             "[[table]]", f'into = "{table}"', "[table.columns]"]
    lines += [f"{field} = {column}" for field, column in fields.items()]
    return "\n".join(lines) + "\n"


def write(store, out):
    """Writes the exports; gives the number of rows by table."""
    store, out = Path(store), Path(out)
    out.mkdir(parents=True)
    db = duckdb.connect()
    counts = {}
    for table, columns in TABLES.items():
        files = str(store / "batches" / "*" / f"{table}.parquet")
        chosen = ", ".join(f"{expression} AS {name}" for name, _, expression in columns)
        rows = f"SELECT {chosen}, {DAY.get(table, 'NULL')} AS day FROM read_parquet('{files}') {NEWEST}"
        counts[table] = db.sql(f"SELECT COUNT(*) FROM ({rows})").fetchall()[0][0]
        names = ", ".join(name for name, _, _ in columns)
        years = db.sql(f"SELECT DISTINCT YEAR(day) FROM ({rows}) ORDER BY 1").fetchall() if table in DAY else [(None,)]
        for (year,) in years:
            name = out / f"{table}-{year or 'all'}.csv"
            wanted = f"WHERE YEAR(day) = {year}" if year else ""
            db.sql(f"COPY (SELECT {names} FROM ({rows}) {wanted}) TO '{name}' (HEADER)")
        (out / f"{table}.mapping.toml").write_text(mapping(table))
    (out / "families.toml").write_text((store / "families.toml").read_text())
    return counts


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    print(write(sys.argv[1], sys.argv[2]))
