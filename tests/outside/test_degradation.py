"""Lines with unit effects against published data, fits by other programs, and handbook tables.

Sources, as named in published/degradation.json: sleepstudy.csv, Belenky et al. (2003), J. Sleep Res. 12, 1-12, as in
lme4::sleepstudy, fits by lme4 1.1-31; gaas_laser.csv, Meeker & Escobar (1998), Statistical Methods for Reliability
Data, table C.17, fits by lme4 and nlme, hours to 10 % as printed there (the list from memory, rounded); the crack
growth example of reliawiki.com (Degradation Data Analysis); NIST/SEMATECH e-Handbook, 7.2.6.2 and 7.2.6.3. The
reference program's commands are lmer(Reaction ~ Days + (Days | Subject)), (1 | Subject), (Days || Subject), and
lmer(increase ~ khours + (khours | unit)), lmer(increase ~ 0 + khours + (0 + khours | unit)).
"""

import csv
import json
import warnings
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import nct

from draincurve.pipeline.deciding.wear_hours import hours_at
from draincurve.pipeline.describing.wear_limits import WearLimit
from draincurve.pipeline.fitting.degradation.line_posterior import _lines, unit_lines
from draincurve.pipeline.fitting.degradation.linear_mixed_model import fit_degradation
from draincurve.pipeline.fitting.degradation.sums_of_units import unit_sums
from draincurve.pipeline.judging.fleet_limits import ordered_percentile, tolerance_factor

PUBLISHED = Path(__file__).with_name("published")
ENTRIES = json.loads((PUBLISHED / "degradation.json").read_text(encoding="utf-8"))
STRUCTURES = {"slope": "intercept and slope", "int": "intercept", "uncorr": "uncorrelated"}
FREE_LINES = np.array([[2e3, 0.0, 2e3]])
"""Units so different that each line is its own least squares."""


def rows(name, unit, clock, response):
    with (PUBLISHED / name).open(encoding="utf-8") as lines:
        read = list(csv.DictReader(lines))
    labels, number = np.unique([row[unit] for row in read], return_inverse=True)
    values = [np.array([float(row[column]) for row in read]) for column in (response, clock)]
    return labels, values[0], values[1], number


def sleepers():
    return rows("sleepstudy.csv", "Subject", "Days", "Reaction")


def lasers():
    return rows("gaas_laser.csv", "unit", "hours", "increase")


def covariances(expected):
    """Published variances and covariance, None where the structure has none."""
    found = [None, None, None]
    for name, value in expected["vcov"].items():
        if not name.startswith("Residual"):
            place = 2 if "(Intercept)" in name and name.count(" ") == 2 and "NA" not in name else 0
            place = place if place else 0 if "(Intercept) NA" in name else 1
            found[place] = value
    return found, expected["vcov"]["Residual NA NA"]


def held_against(fit, entry):
    expected, tolerance = entry["expected"], entry["tolerance"]
    assert fit.converged
    assert not fit.singular
    assert fit.log_likelihood == pytest.approx(expected["logLik"], abs=tolerance["logLik"])
    assert fit.coefficients == pytest.approx(list(expected["fixef"].values()), abs=tolerance["fixef"])
    errors = expected["se_fixef"]
    errors = list(errors.values()) if isinstance(errors, dict) else np.atleast_1d(errors).tolist()
    assert fit.standard_errors == pytest.approx(errors, rel=1e-4)
    (level, slope, both), residual = covariances(expected)
    places = {(0, 0): level, (1, 1): slope, (0, 1): both}
    for place, value in places.items():
        expectation = 0.0 if value is None else value
        assert fit.unit_covariance[place] == pytest.approx(expectation, rel=tolerance["vcov_rel"], abs=1e-12)
    assert fit.residual_variance == pytest.approx(residual, rel=tolerance["vcov_rel"])


@pytest.mark.parametrize("method", ["REML", "ML"])
@pytest.mark.parametrize("structure", STRUCTURES)
def test_sleep_study_as_lme4_fits_it(structure, method):
    _, reaction, days, subject = sleepers()
    fit = fit_degradation(reaction, days, unit=subject, method=method, structure=STRUCTURES[structure])
    held_against(fit, ENTRIES[f"sleepstudy_{structure}_{method}"])


def test_unit_effects_of_the_sleep_study():
    labels, reaction, days, subject = sleepers()
    fit = fit_degradation(reaction, days, unit=subject)
    expected = ENTRIES["sleepstudy_slope_REML"]["expected"]
    lines = _lines(unit_sums(subject, clock=days, response=reaction), fit.lower[None, :], effective=None)
    for found, fixed, name in zip(
        (lines.level, lines.slope), fit.coefficients, ("blup_int", "blup_slope"), strict=True
    ):
        effects = [expected[name][label] for label in labels]
        assert np.abs(found[0, : lines.new_unit] - fixed - effects).max() < 1e-3


@pytest.mark.parametrize("method", ["REML", "ML"])
def test_lasers_as_lme4_and_nlme_fit_them(method):
    _, increase, hours, unit = lasers()
    held_against(fit_degradation(increase, hours / 1000, unit=unit, method=method), ENTRIES[f"laser_slope_{method}"])
    through = fit_degradation(
        increase, hours / 1000, unit=unit, method=method, structure="slope", through_origin=True
    )
    held_against(through, ENTRIES[f"laser_origin_{method}"])


def test_hours_to_ten_percent_of_the_lasers():
    labels, increase, hours, unit = lasers()
    sums = unit_sums(unit, clock=hours, response=increase)
    expected = np.array([ENTRIES["laser_time_to_limit"]["expected"]["hours"][label] for label in labels])
    limit = WearLimit(None, 10.0, "%", "", "")
    arguments = (np.arange(labels.size), limit, False, np.zeros(labels.size), 8000.0, (0.5,), False)
    each = hours_at(_lines(sums, FREE_LINES, effective=None), *arguments)[:, 0]
    assert np.abs(each - expected).max() < 1.0
    fit = fit_degradation(increase, hours, unit=unit)
    shared = hours_at(unit_lines(sums, best=fit.lower, rng=np.random.default_rng(1)), *arguments)[:, 0]
    assert np.abs(shared / expected - 1).max() < 0.02
    assert np.ptp(shared) < np.ptp(expected), "lines lean on each other"


def test_cycles_to_thirty_millimetres_of_crack():
    expected = ENTRIES["reliawiki_crack"]["expected"]
    cycles = np.tile(expected["cycles"], 5).astype(float)
    length = np.log(np.concatenate(list(expected["mm"].values())))
    sums = unit_sums(np.repeat(np.arange(5), 5), clock=cycles, response=length)
    lines = _lines(sums, FREE_LINES, effective=None)
    growth, start = lines.slope[0, :5], np.exp(lines.level[0, :5])
    for place, (name, own) in enumerate(expected["units"].items()):
        assert growth[place] == pytest.approx(own["a"], rel=1e-6)
        assert start[place] == pytest.approx(own["b"], rel=1e-6)
        assert (np.log(30) - lines.level[0, place]) / growth[place] == pytest.approx(own["x30"], rel=1e-6)
        printed = expected["published"][name]
        assert (growth[place], start[place]) == pytest.approx(printed, rel=5e-3)


@pytest.mark.parametrize("method", ["REML", "ML"])
@pytest.mark.parametrize("seed", range(4))
def test_statsmodels_has_the_same_likelihood(method, seed):
    """Uneven fleets; statsmodels at its own optimum, and ours at the same parameters, to one part in a million."""
    import pandas as pd
    from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams

    rng = np.random.default_rng(seed)
    unit = np.repeat(np.arange(25), rng.integers(2, 9, 25))
    clock = rng.uniform(0, 3, unit.size)
    effects = rng.multivariate_normal([0, 0], [[0.3, 0.05], [0.05, 0.2]], 25)
    response = 1 + effects[unit, 0] + (1 + effects[unit, 1]) * clock + 0.4 * rng.normal(size=unit.size)
    fit = fit_degradation(response, clock, unit=unit, method=method)
    design = pd.DataFrame({"one": 1.0, "clock": clock})
    model = MixedLM(response, design, groups=unit, exog_re=design)
    ours = MixedLMParams.from_components(fit.coefficients, cov_re=fit.unit_covariance / fit.residual_variance)
    model.reml, model.fe_pen, model.cov_pen = method == "REML", None, None
    assert model.loglike(ours) == pytest.approx(fit.log_likelihood, abs=1e-6)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        other = model.fit(reml=method == "REML", start_params=ours, method="bfgs", gtol=1e-9)
    assert fit.log_likelihood == pytest.approx(other.llf, abs=1e-6)
    assert fit.coefficients == pytest.approx(np.asarray(other.fe_params), rel=1e-4)


def test_tolerance_factor_of_the_handbook():
    """NIST/SEMATECH 7.2.6.3: 43 readings, 90 % of the population, 99 % confidence."""
    expected = ENTRIES["nist_tolerance"]["expected"]
    assert tolerance_factor(43, 0.90, confidence=0.99) == pytest.approx(expected["k1_noncentral_t"], abs=1e-6)
    assert tolerance_factor(43, 0.90, confidence=0.99) == pytest.approx(expected["k1_natrella"], rel=2e-3)
    assert nct.cdf(np.sqrt(43) * expected["k1_noncentral_t"], 42, np.sqrt(43) * 1.2815515655) == pytest.approx(0.99)


def test_percentile_of_the_handbook():
    """NIST/SEMATECH 7.2.6.2: the 90th percentile of 12 gauge readings, at rank 0.9 x 13."""
    expected = ENTRIES["nist_percentile"]["expected"]
    found = ordered_percentile(np.sort(expected["x"]), 0.90, confidence=0.90)
    assert found.value == pytest.approx(expected["p90_type6"], abs=1e-9)
