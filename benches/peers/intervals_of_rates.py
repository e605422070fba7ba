"""SciPy's part of the rates: Garwood limits of every cell of an answer, held against the answer's own.

    python3 intervals_of_rates.py ANSWER
"""

import json
import sys
import time

import numpy as np
from scipy import stats


def main(answer):
    answer = json.load(open(answer))
    rows = [r for r in answer["rows"] if r["estimate"] and r["estimate"]["method"] == "garwood" and r["evidence"]["exposure_m"]]
    x = np.array([r["evidence"]["events"] for r in rows], dtype=float)
    e = np.array([r["evidence"]["exposure_m"] for r in rows], dtype=float) / 1e8
    wall, cpu = time.perf_counter(), time.process_time()
    lower = np.where(x == 0, 0.0, stats.chi2.ppf(0.025, 2 * np.maximum(x, 1)) / 2) / e
    upper = stats.chi2.ppf(0.975, 2 * x + 2) / 2 / e
    print(f"seconds {time.perf_counter() - wall:.4f} cpu {time.process_time() - cpu:.4f}")
    ours = np.array([(r["estimate"]["lower"], r["estimate"]["upper"]) for r in rows])
    if not np.allclose(ours, np.column_stack([lower, upper]), rtol=1e-9, atol=0):
        sys.exit("limits differ")
    print(len(rows), "cells")


if __name__ == "__main__":
    main(*sys.argv[1:])
