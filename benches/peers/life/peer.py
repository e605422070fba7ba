"""Reads lives (family, cause, entry_km, exit_km, failed), fits Kaplan-Meier and Weibull with late entry by lifelines."""

import json
import sys
import warnings

import pandas
from lifelines import KaplanMeierFitter, WeibullFitter

warnings.filterwarnings("ignore")
lives = pandas.read_csv(sys.argv[1])
most = int(sys.argv[3])
out, refused = {}, 0
for (family, cause), cell in lives.groupby(["family", "cause"]):
    if cell.failed.sum() < 2 or (most and len(out) >= most):
        continue
    try:
        KaplanMeierFitter().fit(cell.exit_km, cell.failed, entry=cell.entry_km)
    except Exception:
        # It gives up where the first risk sets fail as a whole; the fit is asked all the same.
        refused += 1
    try:
        fit = WeibullFitter().fit(cell.exit_km, cell.failed, entry=cell.entry_km)
    except Exception as error:
        print(f"{family}, {cause}: lifelines gives no fit ({type(error).__name__})")
        continue
    out[f"{family},{cause}"] = {"scale": fit.lambda_, "shape": fit.rho_, "log_likelihood": fit.log_likelihood_}
print(f"lifelines refused {refused} curves")
json.dump(out, open(sys.argv[2], "w"))
