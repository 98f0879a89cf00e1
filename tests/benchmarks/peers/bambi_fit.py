"""bambi's cumulative family on rows from a CSV file; runs in an environment of its own.

    python bambi_fit.py ROWS.csv ANSWER.json TIMES ENOUGH

Its priors as they come. It is run once whatever TIMES and ENOUGH say: a sampler's compilation is part of every use.
"""

from __future__ import annotations

import json
import logging
import sys
import time
import warnings
from importlib.metadata import version
from pathlib import Path

import arviz
import bambi
import numpy as np
import pandas as pd

CHAINS, DRAWS, TUNING, SEED = 4, 1000, 1000, 20260101


def main(rows: str, answer: str, _times: str, _enough: str) -> None:
    """Sample, and write the posterior means of the parameters."""
    logging.disable(logging.WARNING)
    warnings.simplefilter("ignore")
    data = pd.read_csv(rows)
    columns = [name for name in data.columns if name not in ("rating", "unit")]
    data["rating"] = pd.Categorical(data["rating"], ordered=True)
    begin = time.perf_counter()
    model = bambi.Model(f"rating ~ {' + '.join(columns)} + (1|unit)", data, family="cumulative", link="logit")
    drawn = model.fit(draws=DRAWS, tune=TUNING, chains=CHAINS, cores=2, random_seed=SEED, progressbar=False)
    seconds = time.perf_counter() - begin
    posterior = drawn.posterior
    names = ["threshold", *columns, "1|unit_sigma"]
    effective = min(float(arviz.ess(posterior, var_names=[name])[name].min()) for name in names)
    mean = posterior.mean(dim=("chain", "draw"))
    said = {
        "version": version("bambi"),
        "seconds": seconds,
        "log_likelihood": None,
        "thresholds": np.asarray(mean["threshold"]).tolist(),
        "coefficients": [float(mean[name]) for name in columns],
        "unit_sd": float(mean["1|unit_sigma"]),
        "note": f"means under its own priors; {effective:,.0f} effective draws of the slowest parameter, "
        f"{effective / seconds:,.0f} a second, its compiling included",
    }
    Path(answer).write_text(json.dumps(said), encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
