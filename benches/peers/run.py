#!/usr/bin/env python3
"""Times Boretally beside what else could be used for the same work, on the same invented records, and checks that they agree.

    python3 run.py --binary ../../target/release/boretally --vehicles 100000,1000000 --rounds 5

Prints one table: wall and processor seconds, peak memory, and Boretally's wall time divided by the peer's (below 1 is faster).
README.md says what each line is. Everything is made in --work, and records that are there are used again.
"""

import argparse
import importlib.util
import json
import os
import shutil
import sys
from pathlib import Path

import plain
from measure import Cost, median, run

HERE = Path(__file__).resolve().parent
CELLS = "family,cause,cylinder,band"


def parsed():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--binary", required=True, help="the boretally to time; a release build")
    p.add_argument("--vehicles", default="100000", help="sizes, separated by commas")
    p.add_argument("--rounds", type=int, default=5, help="the median of so many rounds is told")
    p.add_argument("--parts", default="ingest,rates,intervals,alone", help="which of these to run")
    p.add_argument("--intervals", help="the program of benches/peers/intervals.rs, as cargo bench --no-run names it")
    p.add_argument("--peers", default="duckdb,polars,pandas", help="the other programs")
    p.add_argument("--work", default="/tmp/boretally-peers")
    args = p.parse_args()
    args.peers = args.peers.split(",")
    args.binary, args.work = Path(args.binary).resolve(), Path(args.work)
    return args


def life_bench():
    """The scenario of many families is told in life/run.py."""
    spec = importlib.util.spec_from_file_location("life_run", HERE / "life" / "run.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def exports(args, vehicles):
    """Plain exports of so many vehicles in 60 families, made through the generator and a first ingest."""
    folder = args.work / str(vehicles)
    done = folder / "plain"
    if not done.exists():
        folder.mkdir(parents=True, exist_ok=True)
        few, records, store = folder / "few", folder / "records", folder / "store"
        for old in (few, records, store, folder / "store.key", folder / "plain.unfinished"):
            shutil.rmtree(old, ignore_errors=True) if old.is_dir() else old.unlink(missing_ok=True)
        run([args.binary, "synth", "--vehicles", 10, "--out", few])
        text = (few / "truth" / "scenario.toml").read_text()
        (folder / "scenario.toml").write_text(life_bench().scenario(text, 60))
        line = [args.binary, "synth", "--vehicles", vehicles, "--seed", 7, "--scenario", folder / "scenario.toml", "--out", records]
        told("synth", vehicles, run(line))
        told("ingest of the generator's exports", vehicles, run([args.binary, "ingest", records, "--store", store, "--as-of", "2100-01-01"]))
        shutil.rmtree(records)
        print(plain.write(store, folder / "plain.unfinished"), file=sys.stderr)
        shutil.rmtree(store)
        (folder / "plain.unfinished").rename(done)
    return done


def told(what, vehicles, cost):
    print(f"{what}, {vehicles} vehicles: {cost.wall:.1f} s wall, {cost.cpu:.1f} s processor, {cost.memory:.0f} MiB", file=sys.stderr)


class Table:
    """The table that is printed in the end; the first line of a part is Boretally's own."""

    def __init__(self):
        self.lines = ["| work | vehicles | program | wall s | processor s | peak MiB | Boretally / it |", "|---|---|---|---|---|---|---|"]

    def part(self, work, vehicles, costs):
        own = next(iter(costs.values()))
        for program, cost in costs.items():
            told(f"{work}: {program}", vehicles, cost)
            ratio = "" if cost is own else f"{own.wall / cost.wall:.2f}"
            memory = "" if cost.memory is None else f"{cost.memory:.0f}"
            self.lines.append(f"| {work} | {vehicles:,} | {program} | {cost.wall:.2f} | {cost.cpu:.2f} | {memory} | {ratio} |")


def remove(*paths):
    for path in paths:
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)


def ingest(args, vehicles, table):
    made = exports(args, vehicles)
    store, out = args.work / "ingested", args.work / "peer"
    key = args.work / "ingested.key"
    costs = {}
    line = [args.binary, "ingest", made, "--store", store, "--format", "json"]
    costs["boretally ingest, all checks"] = median(args.rounds, lambda: run(line), lambda: remove(store, key))
    account = json.loads(costs["boretally ingest, all checks"].out)
    rows = {t: sum(f["tables"].get(t, 0) for f in account["files"]) for t in plain.TABLES}
    for peer in args.peers:
        line = [sys.executable, HERE / f"ingest_{peer}.py", made, out]
        cost = median(args.rounds, lambda: run(line), lambda: remove(out))
        counted = dict((t, int(n)) for t, n in (l.split() for l in cost.out.splitlines()))
        if counted != rows:
            sys.exit(f"{peer} has other rows: {counted}, boretally {rows}")
        costs[f"{peer}, CSV to Parquet"] = cost
    table.part("ingest", vehicles, costs)


def inside(cost):
    """What a script says it spent on the work itself: its own start and the comparison of results are left out."""
    line = next(l for l in cost.out.splitlines() if l.startswith("seconds "))
    words = line.split()
    return Cost(float(words[1]), float(words[3]), cost.memory)


def together(one, other):
    return Cost(one.wall + other.wall, one.cpu + other.cpu, max(one.memory, other.memory))


def rates(args, vehicles, table):
    made = exports(args, vehicles)
    store, answer = args.work / str(vehicles) / "rates-store", args.work / "rates.json"
    log, work = args.work / "statements.jsonl", args.work / "replayed"
    if not store.exists():
        run([args.binary, "ingest", made, "--store", store])
    history = store / "history"
    line = [args.binary, "rates", "--store", store, "--by", CELLS, "--format", "json", "--out", answer]
    logged = {**os.environ, "BORETALLY_STATEMENT_LOG": str(log)}
    empty = lambda: [remove(p) for p in history.iterdir()] if history.exists() else None
    costs, warm = {}, {}
    costs["boretally rates, history made"] = median(args.rounds, lambda: run(line), empty)
    warm["boretally rates, history there"] = median(args.rounds, lambda: run(line))
    scipy = inside(median(args.rounds, lambda: run([sys.executable, HERE / "intervals_of_rates.py", answer])))
    empty()
    run(line, env=logged)
    for peer in [p for p in args.peers if p != "pandas"]:
        cost = median(args.rounds, lambda: run([sys.executable, HERE / "replay.py", peer, log, work]))
        costs[f"{peer} + SciPy, the same statements"] = together(inside(cost), scipy)
        if peer == "duckdb":
            warm["duckdb + SciPy, history made"] = costs["duckdb + SciPy, the same statements"]
    run(line, env=logged)
    cost = median(args.rounds, lambda: run([sys.executable, HERE / "replay.py", "duckdb", log, work]))
    warm["duckdb + SciPy, history there"] = together(inside(cost), scipy)
    if "pandas" in args.peers:
        cost = median(args.rounds, lambda: run([sys.executable, HERE / "rates_pandas.py", history, answer]))
        warm["pandas + SciPy, history there"] = inside(cost)
    table.part("rates", vehicles, costs)
    table.part("rates again", vehicles, warm)


def intervals(args, table):
    if not args.intervals:
        sys.exit("--intervals is needed: the program that `cargo bench --bench intervals --no-run` names")
    folder = args.work / "limits"
    folder.mkdir(parents=True, exist_ok=True)
    ours = run([args.intervals], env={**os.environ, "BORETALLY_INTERVALS": str(folder)})
    theirs = run([sys.executable, HERE / "intervals_scipy.py", folder])
    print(theirs.out, file=sys.stderr)
    seconds = {l.split()[0]: float(l.split()[1]) for l in (ours.out + theirs.out).splitlines() if len(l.split()) == 2}
    for name, title in {"clopper_pearson": "10^6 Clopper-Pearson intervals", "garwood": "10^6 Garwood intervals"}.items():
        own = seconds[name]
        table.lines.append(f"| {title}, one thread | | boretally | {own:.2f} | {own:.2f} | | |")
        for way in ("stats", "special"):
            peer = seconds[f"{name}_{way}"]
            table.lines.append(f"| {title}, one thread | | scipy.{way}, vectorised | {peer:.2f} | {peer:.2f} | | {own / peer:.2f} |")


def alone(args, table):
    """What no other program does: a plan over the whole catalog, and the pages of the sample."""
    store = args.work / "sample-store"
    if not store.exists():
        run([args.binary, "ingest", HERE.parents[1] / "sample-data", "--store", store, "--as-of", "2025-01-01"])
    lines = {
        "test order of a family, whole catalog": ["test-order", "--family", "alder-4"],
        "report of the sample, without a roster": ["report", "--out", args.work / "pages"],
    }
    for title, line in lines.items():
        whole = [args.binary, *line, "--store", store]
        run(whole)  # History is there from here on.
        cost = median(args.rounds, lambda: run(whole))
        table.lines.append(f"| {title} | | boretally | {cost.wall:.2f} | {cost.cpu:.2f} | {cost.memory:.0f} | |")


def main():
    args = parsed()
    table = Table()
    parts = args.parts.split(",")
    for vehicles in map(int, args.vehicles.split(",")):
        if "ingest" in parts:
            ingest(args, vehicles, table)
        if "rates" in parts:
            rates(args, vehicles, table)
    if "intervals" in parts:
        intervals(args, table)
    if "alone" in parts:
        alone(args, table)
    print("\n".join(table.lines))


if __name__ == "__main__":
    main()
