"""SciPy's part of the intervals: the same million cells as `intervals.rs`, vectorised quantiles, one thread; compares limits if given.

    python3 intervals_scipy.py [FOLDER WITH THE LIMITS OF intervals.rs]

Prints `name seconds` for each, the median of five rounds, then the largest relative difference of any limit.
"""

import sys
import time
from pathlib import Path

import numpy as np
from scipy import special, stats

N = 1_000_000


def cells():
    i = np.arange(N, dtype=np.int64)
    small = i * 7919 % 1000
    events = small * small * small // 250_000
    return events, events + 1 + i * 104_729 % 1_000_000


def clopper_pearson_stats(x, n):
    lower = np.where(x == 0, 0.0, stats.beta.ppf(0.025, np.maximum(x, 1), n - x + 1))
    upper = np.where(x == n, 1.0, stats.beta.ppf(0.975, x + 1, np.maximum(n - x, 1)))
    return lower, upper


def garwood_stats(x, n):
    lower = np.where(x == 0, 0.0, stats.chi2.ppf(0.025, 2 * np.maximum(x, 1)) / 2)
    return lower / n, stats.chi2.ppf(0.975, 2 * x + 2) / 2 / n


def clopper_pearson_special(x, n):
    lower = np.where(x == 0, 0.0, special.betaincinv(np.maximum(x, 1), n - x + 1, 0.025))
    upper = np.where(x == n, 1.0, special.betaincinv(x + 1, np.maximum(n - x, 1), 0.975))
    return lower, upper


def garwood_special(x, n):
    lower = np.where(x == 0, 0.0, special.gammaincinv(np.maximum(x, 1), 0.025))
    return lower / n, special.gammaincinv(x + 1, 0.975) / n


def main(folder=None):
    x, n = cells()
    for name, ways in {
        "clopper_pearson": (clopper_pearson_stats, clopper_pearson_special),
        "garwood": (garwood_stats, garwood_special),
    }.items():
        for way in ways:
            rounds = []
            for _ in range(5):
                begin = time.perf_counter()
                limits = way(x, n)
                rounds.append(time.perf_counter() - begin)
            print(f"{way.__name__} {sorted(rounds)[2]:.6f}")
        if folder:
            ours = np.fromfile(Path(folder) / f"{name}.f64", dtype="<f8").reshape(N, 2)
            for side, theirs in enumerate(limits):
                scale = np.maximum(np.abs(theirs), 1e-300)
                worst = np.max(np.abs(ours[:, side] - theirs) / scale)
                print(f"{name} {('lower', 'upper')[side]} differs by at most {worst:.2g}")


if __name__ == "__main__":
    main(*sys.argv[1:])
