#!/usr/bin/env python3
"""Whether `boretally budget --check` holds what it says, from invented exports to the printed ranges.

For each fleet: `boretally synth` with a seed and a size of its own (and, unless --one-world, a world of its own: families fail more
or less often and cost more or less), `boretally ingest`, `boretally budget --check` at several cut-offs. Counted is how often
the repairs that came, and their cost, lay within the 80 and 95 % ranges. Needs Python 3.11 and the program; no package.

Counts are whole numbers, so a range of whole numbers holds more than it says. Beside the printed ranges stands the share of
randomised places within the level, P(N < n) + u P(N = n) with u uniform, which is the level itself when the forecast is right (Smith
1985, J Forecast 4:283). Limits of shares are Clopper-Pearson's, by `boretally interval`, as if cut-offs of one fleet were
independent; the line "first cut-offs" counts one cut-off a fleet, for which that is so.
"""

import argparse
import concurrent.futures
import json
import math
import random
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

CUT_OFFS = ["2020-12-31", "2021-06-30", "2021-12-31", "2022-06-30", "2022-12-31"]
LEVELS = [0.8, 0.95]


def run(binary, *arguments):
    done = subprocess.run([binary, *map(str, arguments)], capture_output=True, text=True)
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(map(str, arguments))}: {done.stderr.strip()[-500:]}")
    return done.stdout


def another_world(text, generator):
    """The scenario with other families: hazards times a gamma deviate of coefficient of variation 0.5, parts and labour moved."""
    def times(match, factor):
        return f"{match.group(1)}{float(match.group(2)) * factor:.6g}"

    text = re.sub(r"(?m)^(factor = )([0-9.]+)$",
                  lambda m: times(m, generator.gammavariate(4, 0.25)), text)
    price = math.exp(generator.gauss(0, 0.3))
    return re.sub(r"(?m)^(labour_rate = )([0-9.]+)$", lambda m: times(m, price), text)


def fleet(options, number):
    generator = random.Random(1_000_003 * options.seed + number)
    size = options.vehicles[number % len(options.vehicles)]
    folder = Path(options.work) / f"fleet-{number}"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    try:
        seed = options.seed * 1_000_000 + number
        world = []
        if not options.one_world:
            scenario = folder / "scenario.toml"
            scenario.write_text(another_world(options.scenario, generator))
            world = ["--scenario", scenario]
        run(options.binary, "synth", "--vehicles", size, "--seed", seed, "--out", folder / "exports", *world)
        run(options.binary, "ingest", folder / "exports", "--store", folder / "store")
        out = run(options.binary, "budget", "--store", folder / "store", "--check", ",".join(options.cut_offs),
                  "--months", options.months, "--inflation", "0.03", "--draws", options.draws, "--format", "json")
        rows = []
        for row in json.loads(out)["rows"]:
            row["fleet"], row["vehicles"] = number, size
            row["u"] = generator.random()
            rows.append(row)
        return rows
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def within(expected, level, value):
    return any(r["level"] == level and r["lower"] <= value <= r["upper"] for r in expected["ranges"])


def share(binary, hits, trials):
    methods = json.loads(run(binary, "interval", "proportion", hits, trials, "--format", "json"))["methods"]
    estimate = next(m for m in methods if m["method"] == "clopper_pearson")
    return f"{100 * hits / trials:5.1f} %  ({100 * estimate['lower']:.1f} to {100 * estimate['upper']:.1f}; {hits} of {trials})"


def line(binary, title, hits):
    if hits:
        print(f"  {title:<44} {share(binary, sum(hits), len(hits))}")


def table(binary, title, rows):
    print(f"\n{title}: {len(rows)} forecasts of {len({r['fleet'] for r in rows})} fleets")
    if not rows:
        return
    costs = [r for r in rows if r.get("cost") and r.get("observed_cost") is not None]
    for level in LEVELS:
        percent = f"{100 * level:.0f} %"
        place = lambda r: r["place"] + (r["u"] - 0.5) * r["probability"]
        line(binary, f"count, printed range {percent}", [within(r["count"], level, r["observed"]) for r in rows])
        line(binary, f"count, randomised place {percent}", [abs(place(r) - 0.5) <= level / 2 for r in rows])
        line(binary, f"cost, printed range {percent}", [within(r["cost"], level, r["observed_cost"]) for r in costs])
    expected = sum(r["count"]["expected"] for r in rows)
    observed = sum(r["observed"] for r in rows)
    print(f"  repairs seen over expected: {observed} / {expected:.1f} = {observed / expected:.3f}")
    if costs:
        expected = sum(r["cost"]["expected"] for r in costs)
        seen = sum(r["observed_cost"] for r in costs)
        print(f"  cost seen over expected: {seen / expected:.3f} ({len(costs)} forecasts whose cost is known)")
    below = sum(place(r) < 0.1 for r in rows), sum(place(r) > 0.9 for r in rows)
    print(f"  in the lowest and the highest tenth of the forecast: {below[0]} and {below[1]} of {len(rows)}")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--binary", default="target/release/boretally")
    parser.add_argument("--fleets", type=int, default=100)
    parser.add_argument("--first", type=int, default=0, help="number of the first fleet, to go on where a run ended")
    parser.add_argument("--vehicles", type=lambda t: [int(x) for x in t.split(",")], default=[60, 150, 400, 1000])
    parser.add_argument("--cut-offs", type=lambda t: t.split(","), default=CUT_OFFS)
    parser.add_argument("--months", type=int, default=12)
    parser.add_argument("--draws", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--one-world", action="store_true", help="the shipped scenario in every fleet")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--work", default="coverage-work")
    parser.add_argument("--rows", help="write every forecast as a line of JSON here")
    parser.add_argument("--read", nargs="*", help="print the tables of rows written before, and invent nothing")
    options = parser.parse_args()
    if options.read:
        rows = [json.loads(text) for file in options.read for text in open(file)]
        return tables(options.binary, rows)
    # The shipped scenario as the program writes it beside a fleet.
    seed = Path(options.work) / "scenario"
    shutil.rmtree(seed, ignore_errors=True)
    run(options.binary, "synth", "--vehicles", 1, "--out", seed)
    options.scenario = (seed / "truth" / "scenario.toml").read_text()
    started, rows, failed = time.time(), [], 0
    with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
        jobs = [pool.submit(fleet, options, options.first + i) for i in range(options.fleets)]
        for done, job in enumerate(concurrent.futures.as_completed(jobs), 1):
            try:
                rows.extend(job.result())
            except RuntimeError as error:
                failed += 1
                print(f"a fleet without forecasts: {error}", file=sys.stderr)
            if sys.stderr.isatty() or done % 50 == 0:
                print(f"{done} of {options.fleets} fleets, {time.time() - started:.0f} s", file=sys.stderr)
    rows.sort(key=lambda r: (r["fleet"], r["cut_off"]))
    if options.rows:
        with open(options.rows, "a") as out:
            out.writelines(json.dumps(row) + "\n" for row in rows)
    print(f"{options.fleets} fleets of {', '.join(map(str, options.vehicles))} vehicles in turn, {failed} without forecasts, "
          f"{time.time() - started:.0f} s")
    tables(options.binary, rows)


def tables(binary, rows):
    table(binary, "All", rows)
    first = min(r["cut_off"] for r in rows)
    table(binary, "First cut-offs", [r for r in rows if r["cut_off"] == first])
    last = max(r["cut_off"] for r in rows)
    table(binary, "Last cut-offs", [r for r in rows if r["cut_off"] == last])
    for low, high in [(0, 0), (1, 4), (5, 19), (20, 99), (100, 10**9)]:
        some = [r for r in rows if low <= r["failures_known"] <= high]
        table(binary, f"{low} to {high} failures known" if high < 10**9 else f"{low} failures known and more", some)
    for size in sorted({r["vehicles"] for r in rows}):
        table(binary, f"{size} vehicles", [r for r in rows if r["vehicles"] == size])


if __name__ == "__main__":
    main()
