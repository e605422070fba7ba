"""Pandas and SciPy's part of the rates, with derived history given: events and exposure by family, cause, cylinder and band, Garwood limits.

    python3 rates_pandas.py HISTORY ANSWER

HISTORY is the store's history folder, ANSWER what `boretally rates --by family,cause,cylinder,band --format json` said, held against it.
Making history itself (spans, episodes) is left out: the time is that of the last step only.
"""

import json
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import stats

EDGES_M = [0, 80_000_000, 160_000_000, 240_000_000, 320_000_000, 400_000_000]


def table(history, layer, name):
    """A derived table of a layer of episodes, or of the spans that all of them share."""
    folder = layer if name == "episodes" else next(Path(history).glob("spans-*"))
    return pd.concat([pd.read_parquet(f) for f in sorted(folder.glob(f"{name}*.parquet"))])


def rates(history, layer):
    pieces = table(history, layer, "pieces").dropna(subset=["engine_family", "entry_m"])
    pieces = pieces[pieces.distance_m > 0]
    enter, leave = pieces.entry_m.to_numpy("int64"), (pieces.entry_m + pieces.distance_m).to_numpy("int64")
    upper = EDGES_M[1:] + [np.iinfo("int64").max]
    exposure = pd.DataFrame({
        band: np.minimum(leave, high) - np.minimum(np.maximum(enter, low), high)
        for band, (low, high) in enumerate(zip(EDGES_M, upper))
    }).clip(lower=0)
    exposure["engine_family"] = pieces.engine_family.to_numpy()
    exposure = exposure.groupby("engine_family").sum().stack().rename("exposure_m")
    exposure.index.names = ["engine_family", "band"]

    episodes = table(history, layer, "episodes")
    episodes = episodes[(episodes.chain > 0) & episodes.under_observation & episodes.engine_family.notna() & episodes.position_m.notna()]
    episodes = episodes.assign(band=np.digitize(episodes.position_m.to_numpy("float64"), EDGES_M) - 1)
    kinds = ["engine_family", "cause", "cylinder", "band"]
    one = episodes.drop_duplicates(["vehicle", "cylinder", "chain", "site", "model_year", "opened"] + kinds)
    events = one.groupby(kinds, dropna=False).size().rename("events").reset_index()
    cells = events.merge(exposure.reset_index(), on=["engine_family", "band"])
    x, e = cells.events.to_numpy("float64"), cells.exposure_m.to_numpy("float64") / 1e8
    cells["lower"] = np.where(x == 0, 0, stats.chi2.ppf(0.025, 2 * np.maximum(x, 1)) / 2) / e
    cells["upper"] = stats.chi2.ppf(0.975, 2 * x + 2) / 2 / e
    return cells


def main(history, answer):
    # Bands are known by number here and by words there: cells are compared as a whole, in any order.
    ours = []
    for row in json.load(open(answer))["rows"]:
        key, evidence = row["key"], row["evidence"]
        if evidence["events"] > 0 and key["family"] is not None and key["band"] is not None:
            cylinder = -1 if key["cylinder"] is None else key["cylinder"]
            ours.append((key["family"], key["cause"], cylinder, evidence["events"], evidence["exposure_m"]))
    kinds = ["engine_family", "cause", "cylinder", "events", "exposure_m"]
    # Episodes under other rules lie beside; nothing in a name tells which are which, so the cells must.
    for layer in sorted(Path(history).glob("episodes-*")):
        wall, cpu = time.perf_counter(), time.process_time()
        cells = rates(history, layer)
        spent = f"seconds {time.perf_counter() - wall:.3f} cpu {time.process_time() - cpu:.3f}"
        theirs = [tuple(row) for row in cells.fillna({"cylinder": -1})[kinds].itertuples(index=False)]
        if sorted(ours) == sorted(theirs):
            print(spent)
            print(len(theirs), "cells")
            return
    sys.exit(f"no history has the {len(ours)} cells of the answer")


if __name__ == "__main__":
    main(*sys.argv[1:])
