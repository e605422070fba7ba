"""Runs a command and says what it took."""

import os
import subprocess
import sys
import time
from dataclasses import dataclass


@dataclass
class Cost:
    """Wall and processor seconds, and the most memory held at once in MiB, of a command with its children."""

    wall: float
    cpu: float
    memory: float
    out: str = ""


def run(command, **more):
    begin = time.monotonic()
    child = subprocess.Popen([str(c) for c in command], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, **more)
    out = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    if os.waitstatus_to_exitcode(status) != 0:
        sys.exit(f"failed: {' '.join(map(str, command))}\n{out}")
    return Cost(time.monotonic() - begin, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, out)


def median(rounds, once, before=lambda: None):
    """The round whose wall time is the median; `before` each round is not timed."""
    costs = []
    for _ in range(rounds):
        before()
        costs.append(once())
    costs.sort(key=lambda c: c.wall)
    return costs[len(costs) // 2]
