#!/usr/bin/env python3
"""Times `boretally life` against R survival and lifelines on the same invented records, and checks that they agree.

    python3 run.py --binary ../../../target/release/boretally --vehicles 100000

Makes everything in --work: records by `boretally synth` (a scenario of --families families), a store, and the lives of every
family and cause as the peers read them: entry, exit and whether it failed, taken from the store's history by plain Python.
Prints a table of wall and processor time, peak memory and ratio. See README.md for what each side does.
"""

import argparse
import json
import math
import os
import re
import shutil
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
    p.add_argument("--peer-cells", type=int, default=0, help="cells (family and cause) lifelines fits, drawn at random; 0 means all")
    p.add_argument("--repeat", type=int, default=3, help="runs of boretally; their median is told")
    p.add_argument("--records", help="exports made before by synth with this scenario")
    p.add_argument("--store", help="where the store is, or is made")
    p.add_argument("--work", default="/tmp/boretally-life-bench")
    return p.parse_args()


def timed(command, **more):
    """Wall seconds, processor seconds and peak memory (MiB) of a command."""
    begin = time.monotonic()
    child = subprocess.Popen([str(c) for c in command], **more)
    _, status, usage = os.wait4(child.pid, 0)
    wall = time.monotonic() - begin
    if os.waitstatus_to_exitcode(status) != 0:
        sys.exit(f"failed: {' '.join(map(str, command))}")
    return wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


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
    """Exports and store, made unless they are there."""
    small = work / "small"
    big = Path(args.records) if args.records else work / "records"
    store = Path(args.store) if args.store else work / "store"
    if not store.exists():
        if not big.exists():
            if not small.exists():
                timed([args.binary, "synth", "--vehicles", 10, "--out", small], stdout=subprocess.DEVNULL)
            text = (small / "truth" / "scenario.toml").read_text()
            (work / "scenario.toml").write_text(scenario(text, args.families))
            line = [args.binary, "synth", "--vehicles", args.vehicles, "--seed", 7, "--scenario", work / "scenario.toml", "--out", big]
            print("synth: %.1f s, %.1f s of processor, %.0f MiB" % timed(line, stdout=subprocess.DEVNULL), flush=True)
        line = [args.binary, "ingest", big, "--store", store, "--as-of", "2100-01-01"]
        log = open(work / "ingest.log", "w")
        print("ingest: %.1f s, %.1f s of processor, %.0f MiB" % timed(line, stdout=log), flush=True)
    return store


def history(store, table):
    import polars as pl
    # Other rules leave histories of their own there; the one under the default rules has the most rows.
    folders = sorted({f.parent for f in (store / "history").glob("*/*.parquet")})
    found = []
    for folder in folders:
        files = [f for f in sorted(folder.glob("*.parquet")) if re.fullmatch(rf"{table}(-\d+)?", f.stem)]
        if files:
            found.append(pl.concat([pl.read_parquet(f) for f in files]))
    return max(found, key=lambda rows: rows.height)


def lives(store, causes, work):
    """Lives of every family and cause, one CSV row each: an engine leaves at its first failure of the cause, whoever saw it.
    Gives the number of cells, lives and failures; one family is in memory at a time."""
    import polars as pl
    spans = history(store, "spans").filter(pl.col("entry_m").is_not_null() & (pl.col("distance_m") > 0))
    spans = spans.filter(pl.col("engine_family").is_not_null()).sort("engine_family", maintain_order=True)
    episodes = history(store, "episodes").filter(pl.col("engine_no").is_not_null() & pl.col("cause").is_in(causes))
    first = {}
    order = ["opened", pl.col("position_m").fill_null(1 << 60), -pl.col("confirmation"), "place"]
    columns = ["vehicle", "engine_no", "cause", "opened", "position_m", "under_observation"]
    for vehicle, engine, cause, opened, at, seen in episodes.sort(order).select(columns).iter_rows():
        first.setdefault((vehicle, engine), {}).setdefault(cause, (opened, at, seen))
    columns = ["vehicle", "engine_no", "entry_m", "distance_m", "entry_date", "exit_date"]
    cells = total = failures = 0
    with open(work / "lives.csv", "w") as out:
        out.write("family,cause,entry_km,exit_km,failed\n")
        for (family,), of_family in spans.partition_by("engine_family", as_dict=True, maintain_order=True).items():
            rows = {cause: [] for cause in causes}
            for vehicle, engine, entry, metres, begin, end in of_family.select(columns).iter_rows():
                own = first.get((vehicle, engine), {})
                whole = (entry, entry + metres, 0)
                for cause in causes:
                    if cause not in own:
                        rows[cause].append(whole)
                        continue
                    opened, at, seen = own[cause]
                    if opened > end or (opened >= begin and at is not None and at > entry + metres):
                        rows[cause].append(whole)
                        continue
                    if opened < begin:
                        continue
                    known = at is not None
                    if not known:
                        days = (end - begin).days
                        at = entry + (math.floor(metres * (opened - begin).days / days) if days else 0)
                    if at > entry:
                        rows[cause].append((entry, at, int(seen and known)))
            for cause, cell in rows.items():
                out.writelines(f"{family},{cause},{a / 1000},{b / 1000},{d}\n" for a, b, d in cell)
                cells += bool(cell)
                total += len(cell)
                failures += sum(d for _, _, d in cell)
    return cells, total, failures


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
    from statistics import median
    if not list((store / "history").glob("episodes-*/*.parquet")):
        subprocess.run([args.binary, "life", "--store", store, "--format", "csv", "--out", work / "warm.csv"], check=True)
    counted = Counter(history(store, "episodes")["cause"].to_list())
    causes = sorted(c for c, _ in counted.most_common(args.causes))
    out = work / "boretally.json"
    line = [args.binary, "life", "--store", store, "--by", "family,cause", "--cause", ",".join(causes), "--format", "json", "--out", out]
    # Cold: the history of both rules is built first.
    shutil.rmtree(store / "history")
    cold = timed(line)
    runs = [timed(line) for _ in range(args.repeat)]
    warm = tuple(median(column) for column in zip(*runs))
    print("boretally life, runs: %s s" % ", ".join("%.2f" % wall for wall, _, _ in runs), flush=True)
    what = "SQL, curves, bands, 4 fits, likelihood-ratio limits, 2 other rules, JSON"
    results = [("boretally life", *warm, what), ("the same, history built first", *cold, "history of two confirmation levels, then as above")]
    groups = {(g["key"]["family"], g["key"]["cause"]): g for g in json.loads(out.read_text())["groups"] if g["key"]["family"]}
    cells, spans, failures = lives(store, causes, work)
    print(f"{cells} cells, {spans} lives, {failures} first failures", flush=True)

    r_out = work / "r.csv"
    r_run = timed(["Rscript", HERE / "peer.R", work / "lives.csv", r_out])
    results.append(("R survival", *r_run, "survfit with entry: curves only, CSV read"))
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
    wall, processor, memory = timed(line)
    found = json.loads(l_out.read_text())
    peer = {tuple(k.split(",")): v for k, v in found["fits"].items()}
    results.append(("lifelines", wall, processor, memory, "Kaplan-Meier and Weibull with entry, CSV read"))
    fitted = {}
    for key, group in groups.items():
        for fit in group["fits"]:
            if fit["distribution"] == "weibull":
                value = {p["name"]: p["estimate"]["value"] for p in fit["parameters"]}
                scaled = fit["log_likelihood"] + group["evidence"]["events"] * math.log(1000)
                fitted[key] = {"scale": value["scale_m"] / 1000, "shape": value["shape"], "log_likelihood": scaled}
    both = {k: v for k, v in peer.items() if k in fitted}
    # A maximum is never below another point of the same likelihood: such a fit of lifelines stopped on its way.
    short = [k for k, v in both.items() if v["log_likelihood"] < fitted[k]["log_likelihood"] - 1e-6]
    print(f"{len(short)} of {len(both)} fits of lifelines stopped below the maximum and are not compared")
    both = {k: v for k, v in both.items() if k not in short}
    print("Weibull log-likelihood against lifelines: largest relative difference %.2g over %d figures, %d missing"
          % agreement({k: {"log_likelihood": v["log_likelihood"]} for k, v in fitted.items()},
                      {k: {"log_likelihood": v["log_likelihood"]} for k, v in both.items()}, relative))
    print("Weibull shape and scale against lifelines: largest relative difference %.2g over %d figures, %d missing"
          % agreement(fitted, {k: {n: v[n] for n in ("scale", "shape")} for k, v in both.items()}, relative))

    base = results[0][1]
    print(f"\n| program | cells | seconds | of processor | peak MiB | boretally takes | what it does |\n|---|---|---|---|---|---|---|")
    for name, wall, processor, memory, what in results:
        of = found["tried"] if name == "lifelines" else cells
        print(f"| {name} | {of} | {wall:.1f} | {processor:.1f} | {memory:.0f} | {base / wall:.3f} | {what} |")
    if found["tried"] < found["cells"]:
        all_cells = found["reading"] + found["fitting"] * found["cells"] / found["tried"]
        print(f"lifelines tried {found['tried']} of {found['cells']} cells with two failures or more, drawn at random: {found['fitting']:.1f} s; by their "
              f"number all would take {all_cells:.0f} s with reading, of which boretally takes {base / all_cells:.4f}")


if __name__ == "__main__":
    main()
