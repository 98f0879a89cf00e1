"""interlace-lme's clmm on rows from a CSV file; runs in an environment of its own, and knows nothing of the project.

    python interlace_fit.py ROWS.csv ANSWER.json TIMES ENOUGH

Fits up to TIMES times, or until ENOUGH seconds are spent; the shortest counts.
"""

from __future__ import annotations

import json
import sys
import time
import warnings
from importlib.metadata import version
from itertools import pairwise
from pathlib import Path

import interlace
import pandas as pd


def main(rows: str, answer: str, times: str, enough: str) -> None:
    """Fit, and write the time and the estimates."""
    data = pd.read_csv(rows)
    columns = [name for name in data.columns if name not in ("rating", "unit")]
    levels = sorted(data["rating"].unique())
    data["rating"] = pd.Categorical(data["rating"], categories=levels, ordered=True)
    seconds: list[float] = []
    while len(seconds) < int(times) and sum(seconds) < float(enough):
        begin = time.perf_counter()
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            fit = interlace.clmm(f"rating ~ {' + '.join(columns)}", data, groups="unit")
        seconds.append(time.perf_counter() - begin)
    notes = [] if fit.converged else ["says that it did not converge"]
    notes += sorted({str(warning.message).splitlines()[0] for warning in caught})[:1]
    said = {
        "version": version("interlace-lme"),
        "seconds": min(seconds),
        "log_likelihood": fit.llf,
        "thresholds": [float(fit.thresholds[f"{low}|{high}"]) for low, high in pairwise(levels)],
        "coefficients": [float(fit.fe_params[name]) for name in columns],
        "unit_sd": float(fit.variance_components["unit"]) ** 0.5,
        "note": "; ".join(notes),
    }
    Path(answer).write_text(json.dumps(said), encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
