"""Corrections for many tests and likelihood-ratio p-values against published and computed numbers.

Fifteen p-values: Benjamini & Hochberg (1995), J. R. Stat. Soc. B 57, 289-300, the thrombolysis example; the p-values
as recalled by the collector of the reference, who had the adjusted ones from R's p.adjust and from statsmodels, which
agreed. Fits: the entries of published/rating_fits.json (see test_published_fits.py); R 4.2.2, ordinal 2022.11.16.
"""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chi2
from statsmodels.stats.multitest import multipletests

from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.pipeline.holm import holm

PUBLISHED = Path(__file__).parent / "published"
ENTRIES = {entry["id"]: entry for entry in json.loads((PUBLISHED / "rating_fits.json").read_text(encoding="utf-8"))}
LINK_OF_CDF = {"1/(1+exp(-x))": "logit", "Phi(x)": "probit", "exp(-exp(-x))": "cloglog"}

P_VALUES = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.324, 0.4262, 0.5719, 0.6528, 0.759, 1.0,
]  # fmt: skip
HOLM = [0.0015, 0.0056, 0.0247, 0.114, 0.2211, 0.278, 0.278, 0.278, 0.3213, 1, 1, 1, 1, 1, 1]
BENJAMINI_HOCHBERG = [
    0.0015, 0.003, 0.0095, 0.035625, 0.0603, 0.06385714285714286, 0.06385714285714286, 0.0645, 0.0765,
    0.48600000000000004, 0.5811818181818182, 0.714875, 0.7532307692307694, 0.8132142857142857, 1.0,
]  # fmt: skip


def test_holm():
    """R: p.adjust(p, "holm")."""
    assert holm(P_VALUES) == pytest.approx(HOLM, abs=1e-9)
    mixed = np.random.default_rng(1).permutation(15)
    assert holm([P_VALUES[at] for at in mixed]) == pytest.approx([HOLM[at] for at in mixed], abs=1e-9)
    assert holm([]) == []


def test_benjamini_hochberg():
    """R: p.adjust(p, "BH"); four are rejected at a false-discovery rate of 5 %."""
    rejected, adjusted, *_ = multipletests(P_VALUES, alpha=0.05, method="fdr_bh")
    assert adjusted == pytest.approx(BENJAMINI_HOCHBERG, abs=1e-9)
    assert int(np.sum(rejected)) == 4


def wine():
    with (PUBLISHED / "wine.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    design = np.array([[row["temp"] == "warm", row["contact"] == "yes"] for row in rows], dtype=float)
    return np.array([int(row["rating"]) for row in rows]), design, [row["judge"] for row in rows]


@pytest.mark.parametrize("shape", ["logit", "probit", "loglog"])
def test_judges_in_the_wine_data(shape):
    """R: 2 * (logLik(clmm) - logLik(clm)), the spread between judges against none, on the entries' numbers.

    A spread of zero lies on the boundary, so half the chi-squared tail on one degree of freedom is the p-value (Self
    & Liang 1987, J. Am. Stat. Assoc. 82, 605-610).
    """
    without, with_judges = ENTRIES[f"wine_clm_{shape}"], ENTRIES[f"wine_clmm_{shape}"]
    assert without["cdf"] == with_judges["cdf"]
    expected = 2 * (with_judges["expected"]["logLik"] - without["expected"]["logLik"])
    ratings, design, judges = wine()
    link = LINK_OF_CDF[without["cdf"]]
    nodes = 10
    one = fit_rating_model(ratings, None, design, judges, link=link, n_nodes=nodes)
    none = fit_rating_model(ratings, None, design, None, link=link)
    found = 2 * (one.log_likelihood - none.log_likelihood)
    assert found == pytest.approx(expected, abs=2e-5)
    assert chi2.sf(found, 1) / 2 == pytest.approx(chi2.sf(expected, 1) / 2, rel=1e-4)
    assert chi2.sf(found, 1) / 2 < 0.002


def test_contact_in_the_housing_data():
    """R: clm of the entry against the same without Cont; no entry holds the smaller fit, so Wald's z stands for it.

    With 1,681 answers the likelihood ratio and the square of the entry's coefficient over its standard error agree.
    """
    entry = ENTRIES["housing_clm_logit"]["expected"]
    with (PUBLISHED / "housing.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    times = [int(row["Freq"]) for row in rows]
    order = {"Low": 1, "Medium": 2, "High": 3}
    ratings = np.repeat([order[row["Sat"]] for row in rows], times)
    columns = [("Infl", "Medium"), ("Infl", "High")]
    columns += [("Type", kind) for kind in ("Apartment", "Atrium", "Terrace")] + [("Cont", "High")]
    design = np.array([[row[column] == level for column, level in columns] for row in rows], dtype=float)
    design = np.repeat(design, times, axis=0)
    smaller = fit_rating_model(ratings, None, design[:, :5], None)
    ratio = 2 * (entry["logLik"] - smaller.log_likelihood)
    z = entry["coef"]["ContHigh"] / entry["se"]["ContHigh"]
    assert ratio == pytest.approx(z**2, rel=0.01)
    assert chi2.sf(ratio, 1) == pytest.approx(chi2.sf(z**2, 1), rel=0.1)
