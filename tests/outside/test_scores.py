"""Scores and intervals of shares against published examples and another library.

Brier score and Spiegelhalter's z are held to the turbine wheels of Nelson (1982), with entries computed in R 4.2.2;
`published/rating_fits.json` says where the numbers come from.
"""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from scipy.special import beta
from scipy.stats import norm
from scipy.stats import t as student
from statsmodels.stats.proportion import proportion_confint

from draincurve.pipeline.judging.backtest.binomial_intervals import exact_interval, wilson_interval
from draincurve.pipeline.judging.backtest.proper_scores import (
    brier_score,
    continuous_scores,
    ranked_probability_scores,
    spiegelhalter_z,
)

PUBLISHED = Path(__file__).parent / "published"
ENTRIES = {entry["id"]: entry for entry in json.loads((PUBLISHED / "rating_fits.json").read_text(encoding="utf-8"))}

FOOTBALL = [
    ((1.00, 0.00, 0.00), 1, 0.0),
    ((0.90, 0.10, 0.00), 1, 0.0050),
    ((0.80, 0.10, 0.10), 1, 0.0250),
    ((0.50, 0.25, 0.25), 1, 0.15625),
    ((0.35, 0.30, 0.35), 2, 0.1225),
    ((0.60, 0.30, 0.10), 2, 0.1850),
    ((0.60, 0.25, 0.15), 1, 0.09125),
    ((0.60, 0.15, 0.25), 1, 0.11125),
    ((0.57, 0.33, 0.10), 1, 0.09745),
    ((0.60, 0.20, 0.20), 1, 0.1000),
]
"""Constantinou & Fenton (2012), Solving the problem of inadequate scoring rules for assessing probabilistic football
forecast models, J. Quant. Anal. Sports 8(1): their invented matches (home win, draw, away win) and outcomes, with the
scores as a public documentation page of their examples prints them."""

NEWCOMBE = [
    (81, 263, (0.2552885198783, 0.3662095769828), (0.2527367455853, 0.3676219226014)),
    (15, 148, (0.06238639953074, 0.1604872417233), (0.05784401008345, 0.1616504903495)),
    (0, 20, (0.0, 0.1611251580528), (0.0, 0.1684334709831)),
    (1, 29, (0.006113214292763, 0.1717552187932), (0.0008726468835799, 0.1776442954887)),
]
"""Proportions of Newcombe (1998), Stat. Med. 17, 857-872 (cases from memory); limits computed with R's
prop.test(correct = FALSE) and binom.test."""


@pytest.mark.parametrize(("chances", "came", "expected"), FOOTBALL)
def test_ranked_probability_score_of_football_matches(chances, came, expected):
    rating = np.array([came])
    assert ranked_probability_scores(np.array([chances]), rating, high=rating)[0] == pytest.approx(
        expected, abs=1e-12
    )


def test_ranked_probability_score_by_hand():
    """Three levels said 0.2, 0.5, 0.3, and the first came: (0.2 - 1)^2 + (0.7 - 1)^2 = 0.73, over two cuts.

    The 0.73 is the textbook's (Wilks, Statistical Methods in the Atmospheric Sciences; from memory); it does not
    divide by the number of cuts.
    """
    rating = np.array([1])
    assert 2 * ranked_probability_scores(np.array([[0.2, 0.5, 0.3]]), rating, high=rating)[0] == pytest.approx(0.73)


def normal_score(y):
    """Gneiting & Raftery (2007), JASA 102, 359-378, section 4.2 (from memory)."""
    return y * (2 * norm.cdf(y) - 1) + 2 * norm.pdf(y) - 1 / np.sqrt(np.pi)


def student_score(y, freedom):
    """Jordan, Krüger & Lerch (2019), J. Stat. Softw. 90(12), appendix on the t distribution (from memory)."""
    spread = 2 * np.sqrt(freedom) / (freedom - 1) * beta(0.5, freedom - 0.5) / beta(0.5, freedom / 2) ** 2
    density = 2 * student.pdf(y, freedom) * (freedom + y**2) / (freedom - 1)
    return y * (2 * student.cdf(y, freedom) - 1) + density - spread


AT = np.array([-6.0, -1.3, 0.0, 0.4, 2.2])
MIDDLES = (np.arange(2000) + 0.5) / 2000


def test_continuous_score_of_a_normal_prediction():
    found = continuous_scores(norm.ppf(MIDDLES)[None, :], AT, side=np.zeros(5, dtype=int))
    assert found == pytest.approx(normal_score(AT), rel=1e-4)


@pytest.mark.parametrize("freedom", [4, 12])
def test_continuous_score_of_a_t_prediction(freedom):
    found = continuous_scores(student.ppf(MIDDLES, freedom)[None, :], AT, side=np.zeros(5, dtype=int))
    assert found == pytest.approx(student_score(AT, freedom), rel=2e-3)


def test_continuous_score_of_a_certain_prediction_is_its_error():
    assert continuous_scores(np.array([[3.0]]), np.array([1.0, 3.0, 4.5]), side=np.zeros(3, dtype=int)) == (
        pytest.approx([2.0, 0.0, 1.5])
    )


def test_levels_that_a_bound_does_not_tell_add_nothing():
    """Of a normal prediction, the integral of (1 - F)^2 over a bound under which the value is known to be."""
    over = np.linspace(0.4, 12.0, 200_001)
    rest = np.trapezoid(norm.sf(over) ** 2, over)
    points = norm.ppf(MIDDLES)[None, :]
    under = continuous_scores(points, np.array([0.4]), side=np.array([-1]))[0]
    assert under == pytest.approx(rest, rel=1e-3)
    other = continuous_scores(points, np.array([0.4]), side=np.array([1]))[0]
    assert under + other == pytest.approx(normal_score(0.4), rel=1e-3)


def test_two_levels_give_the_brier_score():
    """With one cut the ranked probability score is the Brier score (Epstein 1969)."""
    rng = np.random.default_rng(3)
    risk = rng.uniform(size=50)
    past = (rng.uniform(size=50) < risk).astype(int)
    scores = ranked_probability_scores(np.column_stack((1 - risk, risk)), past + 1, high=past + 1)
    assert scores.mean() == pytest.approx(brier_score(risk, past.astype(float)))


@pytest.mark.parametrize("law", ["weibull", "loglogistic"])
def test_turbine_wheels(law):
    """The entries' fitted chances, scored by our own functions."""
    entry = ENTRIES[f"turbine_calibration_{law}"]
    with (PUBLISHED / "turbine_wheel.csv").open(encoding="utf-8", newline="") as file:
        groups = [(int(row["cracked"]), int(row["uncracked"])) for row in csv.DictReader(file)]
    fitted = entry["expected"]["fitted"]
    risk = np.repeat(fitted, [cracked + sound for cracked, sound in groups])
    past = np.concatenate([np.r_[np.ones(cracked), np.zeros(sound)] for cracked, sound in groups])
    assert brier_score(risk, past) == pytest.approx(entry["expected"]["brier"], abs=1e-9)
    assert spiegelhalter_z(risk, past) == pytest.approx(entry["expected"]["spiegelhalter_z"], abs=1e-7)


def test_spiegelhalter_is_blind_at_a_half():
    assert spiegelhalter_z(np.full(10, 0.5), np.ones(10)) is None


@pytest.mark.parametrize(("count", "trials", "wilson", "exact"), NEWCOMBE)
def test_intervals_of_shares(count, trials, wilson, exact):
    assert wilson_interval(count, trials) == pytest.approx(wilson, abs=1e-8)
    assert exact_interval(count, trials) == pytest.approx(exact, abs=1e-8)


@pytest.mark.parametrize(("count", "trials"), [(0, 1), (1, 1), (3, 7), (50, 50), (17, 230), (999, 1000)])
def test_intervals_agree_with_statsmodels(count, trials):
    assert wilson_interval(count, trials) == pytest.approx(
        proportion_confint(count, trials, method="wilson"), abs=1e-9
    )
    assert exact_interval(count, trials) == pytest.approx(proportion_confint(count, trials, method="beta"), abs=1e-9)
