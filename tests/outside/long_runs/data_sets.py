"""Three invented data sets on which the posterior is held against a long run of a general-purpose sampler.

They stand as numbers in data_sets.json, so that they do not depend on how a library draws random numbers;
`python -m tests.outside.long_runs.data_sets` made them.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from draincurve.pipeline.fitting.rating_model import PointFit, fit_rating_model
from draincurve.schemas.settings import Priors

HERE = Path(__file__).parent
DATA = HERE / "data_sets.json"
SUMMARIES = HERE / "summaries.json"
NAMES = ("six units", "rider and spring", "all clean")


def data_set(name: str) -> dict[str, Any]:
    """ratings, log_hours (of h, 4 decimals), units, spring (-1, 1) and rider, where the set has them."""
    return json.loads(DATA.read_text(encoding="utf-8"))[name]


def fitted(name: str, n_nodes: int = 9) -> PointFit:
    """The fit of a data set with the default priors: its objective is the density that both samplers are given."""
    data = data_set(name)
    design, pooled = _design(data)
    return fit_rating_model(
        data["ratings"],
        data["log_hours"],
        design,
        data["units"],
        n_nodes=n_nodes,
        prior=Priors(),
        levels=5,
        pooled=pooled,
    )


def tenth_hours(fit: PointFit, draws: np.ndarray) -> np.ndarray:
    """Log hours at a risk of 10 % of rating 4, typical unit, average spring and rider, (S,)."""
    thresholds, columns, _ = fit.natural_draws(draws)
    return (thresholds[:, 2] - np.log(9.0)) / columns[:, 0]


def _design(data: dict[str, Any]) -> tuple[np.ndarray | None, list[tuple[int, ...]]]:
    """Spring as one contrast column, then the riders' three orthonormal sum-to-zero columns."""
    if "spring" not in data:
        return None, []
    spring = np.array(data["spring"], dtype=float)[:, None] / np.sqrt(2.0)
    if "rider" not in data:
        return spring, []
    return np.hstack((spring, rider_coding()[data["rider"]])), [(1, 2, 3)]


def rider_coding() -> np.ndarray:
    """Orthonormal sum-to-zero contrasts of four riders, (4, 3), written out."""
    return np.array(
        [
            [1 / np.sqrt(2), 1 / np.sqrt(6), 1 / np.sqrt(12)],
            [-1 / np.sqrt(2), 1 / np.sqrt(6), 1 / np.sqrt(12)],
            [0, -2 / np.sqrt(6), 1 / np.sqrt(12)],
            [0, 0, -3 / np.sqrt(12)],
        ]
    )


def _invented(units: int, drains: int, clean: bool, riders: int, rng: np.random.Generator) -> dict[str, Any]:
    unit = np.repeat(np.arange(units), drains)
    log_hours = np.round(np.log(12.0) + 0.5 * rng.standard_normal(unit.size), 4)
    spring = np.where(rng.random(unit.size) < 0.5, -1, 1)
    rider = rng.integers(max(riders, 1), size=unit.size)
    eta = 2.2 * (log_hours - np.log(12.0)) + 0.6 * rng.standard_normal(units)[unit]
    if riders:
        eta += 0.3 * spring + np.array([-0.5, -0.1, 0.2, 0.4])[rider]
    ratings = 1 + np.searchsorted([-1.5, 0.3, 2.1, 3.8], eta + rng.logistic(size=unit.size))
    found = {"ratings": (1 if clean else ratings) + 0 * unit, "log_hours": log_hours, "units": unit}
    found |= {"spring": spring} if riders or clean else {}
    found |= {"rider": rider} if riders else {}
    return {key: values.tolist() for key, values in found.items()}


def main() -> None:
    """Invent the data sets anew."""
    rng = np.random.default_rng(20260101)
    sets = (_invented(6, 6, False, 0, rng), _invented(20, 10, False, 4, rng), _invented(5, 5, True, 0, rng))
    lines = [f'"{name}": {json.dumps(data)}' for name, data in zip(NAMES, sets, strict=True)]
    DATA.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
