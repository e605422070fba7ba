#!/usr/bin/env python3
"""Times `boretally life` against R survival and lifelines on the same invented records, and checks that they agree.

    python3 run.py --binary ../../../target/release/boretally --vehicles 100000

Makes everything in --work: records by `boretally synth` (a scenario of --families families), a store, and the lives of every
family and cause as the peers read them: entry, exit and whether it failed, taken from the store's history by plain Python.
Prints a table of wall time, peak memory and ratio. See README.md for what each side does.
"""

import argparse
import json
import math
import os
import re
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
TREES = ["ash", "aspen", "bay", "beech", "box", "cherry", "cypress", "ebony", "fig", "fir", "gum", "holly", "ivy", "juniper", "larch",
         "laurel", "lime", "maple", "myrtle", "olive", "palm", "pear", "pine", "plane", "plum", "spruce", "teak", "thorn", "walnut", "yew"]


def parsed():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--binary", required=True, help="the boretally to time")
    p.add_argument("--vehicles", type=int, default=20000)
    p.add_argument("--families", type=int, default=60)
    p.add_argument("--causes", type=int, default=15)
    p.add_argument("--peer-cells", type=int, default=0, help="cells (family and cause) lifelines fits; 0 means all")
    p.add_argument("--work", default="/tmp/boretally-life-bench")
    return p.parse_args()


def timed(command, **more):
    """Wall seconds and peak memory (MiB) of a command and its children."""
    begin = time.monotonic()
    child = subprocess.Popen([str(c) for c in command], **more)
    _, status, usage = os.wait4(child.pid, 0)
    wall = time.monotonic() - begin
    if os.waitstatus_to_exitcode(status) != 0:
        sys.exit(f"failed: {' '.join(map(str, command))}")
    return wall, usage.ru_maxrss / 1024


def scenario(seed_text, families):
    """The built-in world with more families: its own, repeated under other names, all of one weight."""
    head, *blocks = re.split(r"(?m)^(?=\[\[family\]\]$)", seed_text)
    out = [head]
    for i in range(families):
        block = blocks[i % len(blocks)]
        name = TREES[i % len(TREES)] + (f"{i // len(TREES) + 1}" if i >= len(TREES) else "")
        cylinders = re.search(r"(?m)^cylinders = (\d+)$", block)[1]
        block = re.sub(r'(?m)^id = .*$', f'id = "{name}-{cylinders}"', block, count=1)
        block = re.sub(r'(?m)^title = .*$', f'title = "{name.title()} {cylinders} cylinders"', block, count=1)
        block = re.sub(r'(?m)^engine_texts = .*$', f'engine_texts = ["{name.upper()} ENGINE {cylinders}"]', block, count=1)
        block = re.sub(r'(?m)^weight = .*$', "weight = [1.0, 1.0]", block, count=1)
        out.append(block.rstrip() + "\n\n")
    return "".join(out)


def records(args, work):
    """Exports and store; gives the causes that are asked for."""
    small, big, store = work / "small", work / "records", work / "store"
    if not (store / "store.toml").exists() and not store.exists():
        if not small.exists():
            timed([args.binary, "synth", "--vehicles", 10, "--out", small], stdout=subprocess.DEVNULL)
        text = (small / "truth" / "scenario.toml").read_text()
        (work / "scenario.toml").write_text(scenario(text, args.families))
        line = [args.binary, "synth", "--vehicles", args.vehicles, "--seed", 7, "--scenario", work / "scenario.toml", "--out", big]
        print("synth: %.1f s, %.0f MiB" % timed(line, stdout=subprocess.DEVNULL))
        line = [args.binary, "ingest", big, "--store", store, "--as-of", "2100-01-01"]
        log = open(work / "ingest.log", "w")
        print("ingest: %.1f s, %.0f MiB" % timed(line, stdout=log))
    return store


def history(store, table):
    import polars as pl
    # Other rules leave histories of their own there; the one under the default rules has the most rows.
    found = [pl.read_parquet(f) for f in sorted((store / "history").glob(f"*/{table}.parquet"))]
    return max(found, key=lambda rows: rows.height)


def lives(store, causes, work):
    """Lives of every family and cause: an engine leaves at its first failure of the cause, whoever saw it."""
    import polars as pl
    spans = history(store, "spans").filter(pl.col("entry_m").is_not_null() & (pl.col("distance_m") > 0))
    spans = spans.filter(pl.col("engine_family").is_not_null())
    episodes = history(store, "episodes").filter(pl.col("engine_no").is_not_null())
    first = {}
    order = ["opened", pl.col("position_m").fill_null(1 << 60), -pl.col("confirmation"), "place"]
    columns = ["vehicle", "engine_no", "cause", "opened", "position_m", "under_observation"]
    for vehicle, engine, cause, opened, at, seen in episodes.sort(order).select(columns).iter_rows():
        first.setdefault((vehicle, engine, cause), (opened, at, seen))
    failed = {}
    for vehicle, engine, cause in first:
        failed.setdefault((vehicle, engine), []).append(cause)
    rows = {}
    columns = ["vehicle", "engine_no", "engine_family", "entry_m", "distance_m", "entry_date", "exit_date"]
    for vehicle, engine, family, entry, metres, begin, end in spans.select(columns).iter_rows():
        own = failed.get((vehicle, engine), ())
        for cause in causes:
            cell = rows.setdefault((family, cause), [])
            if cause not in own:
                cell.append((entry, entry + metres, 0))
                continue
            opened, at, seen = first[(vehicle, engine, cause)]
            if opened > end or (opened >= begin and at is not None and at > entry + metres):
                cell.append((entry, entry + metres, 0))
                continue
            if opened < begin:
                continue
            known = at is not None
            if not known:
                days = (end - begin).days
                at = entry + (math.floor(metres * (opened - begin).days / days) if days else 0)
            if at > entry:
                cell.append((entry, at, int(seen and known)))
    with open(work / "lives.csv", "w") as out:
        out.write("family,cause,entry_km,exit_km,failed\n")
        for (family, cause), cell in sorted(rows.items()):
            out.writelines(f"{family},{cause},{a / 1000},{b / 1000},{d}\n" for a, b, d in cell)
    return rows


def agreement(answer, peer, relative):
    """The largest relative difference over what both sides give; each cell and figure that is missing on one side is told."""
    worst, compared, missing = 0.0, 0, 0
    for key, figures in peer.items():
        mine = answer.get(key)
        if mine is None:
            missing += 1
            continue
        for name, wanted in figures.items():
            found = mine.get(name)
            if found is None or wanted is None:
                missing += 1
                continue
            worst = max(worst, relative(found, wanted))
            compared += 1
    return worst, compared, missing


def relative(a, b):
    return abs(a - b) / max(abs(b), 1e-300)


def main():
    args = parsed()
    work = Path(args.work)
    work.mkdir(parents=True, exist_ok=True)
    store = records(args, work)
    from collections import Counter
    subprocess.run([args.binary, "life", "--store", store, "--format", "csv", "--out", work / "warm.csv"], check=True)
    counted = Counter(history(store, "episodes")["cause"].to_list())
    causes = sorted(c for c, _ in counted.most_common(args.causes))
    out = work / "boretally.json"
    line = [args.binary, "life", "--store", store, "--by", "family,cause", "--cause", ",".join(causes), "--format", "json", "--out", out]
    results = [("boretally life", *timed(line), "SQL, curves, bands, 4 fits, likelihood-ratio limits, 2 rules")]
    rows = lives(store, causes, work)
    spans = sum(len(cell) for cell in rows.values())
    groups = {(g["key"]["family"], g["key"]["cause"]): g for g in json.loads(out.read_text())["groups"] if g["key"]["family"]}
    print(f"{len(groups)} cells, {spans} lives, {sum(sum(d for _, _, d in c) for c in rows.values())} first failures")

    r_out = work / "r.csv"
    results.append(("R survival", *timed(["Rscript", HERE / "peer.R", work / "lives.csv", r_out]), "survfit with entry: curves only"))
    hazards = {}
    for row in r_out.read_text().splitlines()[1:]:
        family, cause, at, hazard = row.split(",")
        hazards.setdefault((family, cause), {})[round(float(at) * 1000)] = float(hazard)
    # A curve that begins later than the first entry has gathered no hazard before: compare from there on.
    mine = {}
    for key, group in groups.items():
        base = max((h for m, h in hazards.get(key, {}).items() if m <= (group["from_m"] or 0)), default=0.0)
        mine[key] = {s["distance_m"]: s["cumulative_hazard"] + base for s in group["curve"]}
    shown = {k: {m: h for m, h in v.items() if m in mine.get(k, {})} for k, v in hazards.items()}
    print("cumulative hazard against R: largest relative difference %.2g over %d figures, %d missing" % agreement(mine, shown, relative))
    if sum(len(v) for v in mine.values()) != sum(len(v) for v in shown.values()):
        sys.exit("a curve has steps that R does not have")

    l_out = work / "lifelines.json"
    line = [sys.executable, HERE / "peer.py", work / "lives.csv", l_out, args.peer_cells]
    results.append(("lifelines", *timed(line), "Kaplan-Meier and Weibull with entry"))
    peer = {tuple(k.split(",")): v for k, v in json.loads(l_out.read_text()).items()}
    fitted = {}
    for key, group in groups.items():
        for fit in group["fits"]:
            if fit["distribution"] == "weibull":
                value = {p["name"]: p["estimate"]["value"] for p in fit["parameters"]}
                scaled = fit["log_likelihood"] + group["evidence"]["events"] * math.log(1000)
                fitted[key] = {"scale": value["scale_m"] / 1000, "shape": value["shape"], "log_likelihood": scaled}
    both = {k: v for k, v in peer.items() if k in fitted}
    print("Weibull log-likelihood against lifelines: largest relative difference %.2g over %d figures, %d missing"
          % agreement({k: {"log_likelihood": v["log_likelihood"]} for k, v in fitted.items()},
                      {k: {"log_likelihood": v["log_likelihood"]} for k, v in both.items()}, relative))
    print("Weibull shape and scale against lifelines: largest relative difference %.2g over %d figures, %d missing"
          % agreement(fitted, {k: {n: v[n] for n in ("scale", "shape")} for k, v in both.items()}, relative))

    base = results[0][1]
    print(f"\n| program | cells | seconds | peak MiB | times boretally | what it does |\n|---|---|---|---|---|---|")
    cells = {"lifelines": len(peer)}
    for name, wall, memory, what in results:
        print(f"| {name} | {cells.get(name, len(groups))} | {wall:.1f} | {memory:.0f} | {wall / base:.2f} | {what} |")


if __name__ == "__main__":
    main()
