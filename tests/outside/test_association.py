"""Two binary responses with a global odds ratio, against published fits.

Data: Ashford & Sowden (1970), Biometrics 26, 535-546, breathlessness and wheeze of coal miners by age. Model:
Palmgren and Dale, in McCullagh & Nelder (1989), section 6.6. `published/association.json` holds the values, computed
with R 4.2.2 and VGAM 1.1-7 (`binom2.or`); its `detail` says how. Standard errors there are of the expected
information.
"""

import csv
import json
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import gammaln

from draincurve.pipeline.fitting.joint.plackett import cell_probability

PUBLISHED = Path(__file__).parent / "published"
ENTRIES = {one["id"]: one for one in json.loads((PUBLISHED / "association.json").read_text(encoding="utf-8"))}
OUTCOMES = list(product((1, 0), repeat=2))


def miners() -> tuple[np.ndarray, np.ndarray]:
    """Ages as (age - 42) / 5, and counts by age of both, the first, the second and neither, (ages, 4)."""
    with (PUBLISHED / "coalminers.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    ages = sorted({float(row["age"]) for row in rows})
    counts = np.zeros((len(ages), 4))
    for row in rows:
        outcome = OUTCOMES.index((int(row["B"]), int(row["W"])))
        counts[ages.index(float(row["age"])), outcome] += float(row["count"])
    return (np.array(ages) - 42) / 5, counts


AGES, COUNTS = miners()


def probabilities(parameters: np.ndarray) -> np.ndarray:
    """Of the four outcomes by age, (ages, 4); parameters : two lines of log odds, and that of the odds ratio."""
    free = 1 / (1 + np.exp(parameters[[0, 2], None] + parameters[[1, 3], None] * AGES))
    line = parameters[5] if parameters.size > 5 else 0.0
    odds_ratio = np.exp(parameters[4] + line * AGES)
    found = np.empty((AGES.size, 4))
    for age in range(AGES.size):
        for number, has in enumerate(OUTCOMES):
            bounds = [(1.0, u) if yes else (u, 0.0) for yes, u in zip(has, free[:, age], strict=True)]
            found[age, number] = cell_probability(*bounds[0], *bounds[1], odds_ratio[age])
    return found


def log_likelihood(parameters: np.ndarray) -> float:
    constant = gammaln(COUNTS.sum(axis=1) + 1).sum() - gammaln(COUNTS + 1).sum()
    return float((COUNTS * np.log(probabilities(parameters))).sum() + constant)


@pytest.mark.parametrize("name", sorted(ENTRIES))
def test_the_published_fit_is_the_maximum_and_has_its_likelihood(name: str) -> None:
    entry = ENTRIES[name]
    wanted = np.array(list(entry["expected"]["coef"].values()))
    assert log_likelihood(wanted) == pytest.approx(
        entry["expected"]["logLik_grouped"], abs=entry["tolerance"]["logLik"]
    )
    start = np.array([-2.0, 0.4, -1.2, 0.2, 2.0, 0.0])[: wanted.size]
    found = minimize(lambda at: -log_likelihood(at), start, method="BFGS", options={"gtol": 1e-7})
    assert found.x == pytest.approx(wanted, abs=2e-5)
    assert -found.fun == pytest.approx(log_likelihood(wanted), abs=1e-7)


def test_standard_errors_by_the_expected_information() -> None:
    entry = ENTRIES["coalminers_constant_odds_ratio"]
    at = np.array(list(entry["expected"]["coef"].values()))
    steps = 1e-5 * np.eye(at.size)
    slopes = np.array(
        [(np.log(probabilities(at + step)) - np.log(probabilities(at - step))) / 2e-5 for step in steps]
    )
    expected = COUNTS.sum(axis=1)[:, None] * probabilities(at)
    information = np.einsum("jac,kac,ac->jk", slopes, slopes, expected)
    found = np.sqrt(np.diag(np.linalg.inv(information)))
    names = list(entry["expected"]["coef"])
    order = [names.index(name) for name in entry["expected"]["se_order"].split(", ")]
    assert found[order] == pytest.approx(entry["expected"]["se"], abs=entry["tolerance"]["se"])
