"""The benchmarks' arbiter, and what becomes of a rival that gives no answer.

The arbiter is held against the published fits of the wine data (ordinal::wine, integrated on 401 points; see
test_published_fits.py), against scipy's adaptive integration unit by unit, and against the project's own likelihood.
"""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import logistic, norm

from draincurve.pipeline.fitting.rating_model import fit_rating_model
from tests.benchmarks.peers.arbiter import arbitrated, log_chances
from tests.benchmarks.peers.own_environment import NotInstalledError
from tests.benchmarks.peers.peer_fit import LeftOut, PeerFit, RatedRows, rated_rows
from tests.benchmarks.peers.rivals import Rival, fit_of

PUBLISHED = Path(__file__).parent / "published"


def fit_with(thresholds, coefficients, unit_sd):
    return PeerFit("", 0.0, None, np.array(thresholds), np.array(coefficients), unit_sd)


def by_scipy(fit, rows):
    """Sum over units of the log of scipy's integral of the conditional chances times the normal density."""
    cuts = np.concatenate(([-np.inf], fit.thresholds, [np.inf]))
    base = rows.columns @ fit.coefficients
    total = 0.0
    for unit in np.unique(rows.unit):
        own = rows.unit == unit
        upper, lower = cuts[rows.ratings[own]] - base[own], cuts[rows.ratings[own] - 1] - base[own]

        def joint(z, upper=upper, lower=lower):
            away = fit.unit_sd * z
            return np.prod(logistic.cdf(upper - away) - logistic.cdf(lower - away)) * norm.pdf(z)

        total += np.log(quad(joint, -10, 10, epsabs=0, epsrel=1e-11, limit=200)[0])
    return total


def test_arbiter_gives_the_published_log_likelihood():
    entry = next(
        entry
        for entry in json.loads((PUBLISHED / "rating_fits.json").read_text(encoding="utf-8"))
        if entry["id"] == "wine_clmm_logit"
    )
    exact = entry["expected"]["exact_integral"]
    with (PUBLISHED / "wine.csv").open(encoding="utf-8", newline="") as file:
        wine = list(csv.DictReader(file))
    columns = np.array([[row["temp"] == "warm", row["contact"] == "yes"] for row in wine], dtype=float)
    judges = np.unique([row["judge"] for row in wine], return_inverse=True)[1]
    rows = RatedRows(np.array([int(row["rating"]) for row in wine]), columns, judges)
    found = arbitrated(fit_with(exact["thresholds"], exact["coef"], exact["sigma"]), rows)
    assert found == pytest.approx(exact["logLik"], abs=1e-6, rel=0)


@pytest.mark.parametrize("unit_sd", [0.05, 0.8, 3.0])
def test_arbiter_agrees_with_adaptive_integration(unit_sd):
    rows = rated_rows(60, 7, 2, seed=4)
    fit = fit_with([-3.0, -1.0, 0.5, 2.0], [2.0, -0.3, 0.2], unit_sd)
    assert arbitrated(fit, rows) == pytest.approx(by_scipy(fit, rows), abs=1e-6, rel=0)


def test_arbiter_agrees_with_our_likelihood_with_and_without_units():
    rows = rated_rows(400, 30, 2, seed=5)
    for unit in (rows.unit, None):
        fit = fit_rating_model(rows.ratings, rows.columns[:, 0], rows.columns[:, 1:], unit, n_nodes=25)
        slopes = np.append(fit.hours_slope, fit.coefficients)
        found = arbitrated(fit_with(fit.thresholds, slopes, fit.unit_sd or 0.0), rows)
        assert found == pytest.approx(fit.log_likelihood, abs=1e-5, rel=0)


def test_chances_keep_their_digits_far_out():
    """F(-40) is exp(-40) to every digit, and so is 1 - F(40)."""
    found = log_chances(np.array([-40.0, np.inf]), np.array([-np.inf, 40.0]))
    assert found == pytest.approx([-40.0, -40.0], rel=1e-14)


def program(folder, text):
    path = folder / "program"
    path.write_text(f"#!/bin/sh\n{text}\n", encoding="utf-8")
    path.chmod(0o755)
    return path


def missing():
    raise NotInstalledError("it is not installed")


def test_a_rival_without_an_answer_is_left_out_with_the_reason(tmp_path):
    rows = rated_rows(20, 4, 1)

    def why(interpreter, limit=20.0):
        answer = fit_of(Rival("peer VERSION", interpreter, "script"), rows, limit)
        assert isinstance(answer, LeftOut)
        assert answer.what == "peer"
        return answer.why

    assert why(missing) == "left out: it is not installed"
    assert why(lambda: program(tmp_path, "sleep 60"), 0.2) == "stopped after 0.2 s without an answer"
    assert why(lambda: program(tmp_path, "echo no memory >&2; exit 3")) == "failed: no memory"
    assert why(lambda: program(tmp_path, "true")).startswith("its answer cannot be read")
    assert why(lambda: program(tmp_path, 'echo "{}" > "$3"')).startswith("its answer cannot be read")
