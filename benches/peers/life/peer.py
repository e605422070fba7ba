"""Reads lives (family, cause, entry_km, exit_km, failed), fits Kaplan-Meier and Weibull with late entry by lifelines."""

import json
import random
import sys
import time
import warnings

import pandas
from lifelines import KaplanMeierFitter, WeibullFitter

warnings.filterwarnings("ignore")
begin = time.monotonic()
lives = pandas.read_csv(sys.argv[1], dtype={"family": "category", "cause": "category"})
reading = time.monotonic() - begin
most = int(sys.argv[3])
cells = [(key, rows) for key, rows in lives.groupby(["family", "cause"], observed=True).indices.items()
         if lives.failed.to_numpy()[rows].sum() >= 2]
wanted = cells
if most and len(cells) > most:
    wanted = random.Random(7).sample(cells, most)
fits, refused, fitting = {}, 0, 0.0
for (family, cause), rows in wanted:
    cell = lives.iloc[rows]
    begin = time.monotonic()
    try:
        KaplanMeierFitter().fit(cell.exit_km, cell.failed, entry=cell.entry_km)
    except Exception:
        # It gives up where the first risk sets fail as a whole; the fit is asked all the same.
        refused += 1
    try:
        fit = WeibullFitter().fit(cell.exit_km, cell.failed, entry=cell.entry_km)
        fits[f"{family},{cause}"] = {"scale": fit.lambda_, "shape": fit.rho_, "log_likelihood": fit.log_likelihood_}
    except Exception as error:
        print(f"{family}, {cause}: lifelines gives no fit ({type(error).__name__})")
    fitting += time.monotonic() - begin
print(f"lifelines refused {refused} curves")
json.dump({"fits": fits, "cells": len(cells), "tried": len(wanted), "reading": reading, "fitting": fitting}, open(sys.argv[2], "w"))
