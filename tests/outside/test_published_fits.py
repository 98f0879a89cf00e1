"""Published and computed fits of ordinal and current-status data, to the tolerance of each entry.

`published/rating_fits.json` holds the entries as they were collected: `source` names the data and the command,
`how_known` and `detail` say where the numbers come from (all were computed with R 4.2.2: ordinal 2022.11.16,
survival 3.5.3, glm). Entries are matched on their `cdf`, never on a link's name: that version of ordinal swaps two
names between clm and clmm. Data: wine.csv, Randall (1989), Biom. J. 31, 781-793, as in ordinal::wine; housing.csv,
Madsen (1976), as in MASS::housing; turbine_wheel.csv, Nelson (1982), Applied Life Data Analysis.
"""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from sklearn.metrics import brier_score_loss

from draincurve.pipeline.fitting.links import link_named
from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.pipeline.judging.isotonic_estimate import isotonic_estimate

PUBLISHED = Path(__file__).parent / "published"
ENTRIES = {entry["id"]: entry for entry in json.loads((PUBLISHED / "rating_fits.json").read_text(encoding="utf-8"))}
LINK_OF_CDF = {"1/(1+exp(-x))": "logit", "Phi(x)": "probit", "exp(-exp(-x))": "cloglog"}
MIRRORED = "1-exp(-exp(x))"
NODES = {"nAGQ1": 1, "nAGQ5": 5, "nAGQ20": 20}

CLM = [name for name in ENTRIES if name.startswith(("wine_clm_", "housing_clm_"))]
CLMM = [name for name in ENTRIES if name.startswith("wine_clmm_") and name.count("_") == 2]
LAPLACE = [name for name in ENTRIES if name.endswith("_laplace")]
CROSSED = [name for name in ENTRIES if "judge_bottle" in name]
TURBINE = ["turbine_weibull", "turbine_loglogistic"]
LINK_OF_LAW = {"weibull": "cloglog", "loglogistic": "logit"}


def rows_of(name):
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def wine():
    rows = rows_of("wine.csv")
    ratings = np.array([int(row["rating"]) for row in rows])
    design = np.array([[row["temp"] == "warm", row["contact"] == "yes"] for row in rows], dtype=float)
    return ratings, design, [row["judge"] for row in rows], [row["bottle"] for row in rows]


def housing():
    rows = rows_of("housing.csv")
    times = [int(row["Freq"]) for row in rows]
    order = {"Low": 1, "Medium": 2, "High": 3}
    columns = [("Infl", "Medium"), ("Infl", "High")]
    columns += [("Type", kind) for kind in ("Apartment", "Atrium", "Terrace")] + [("Cont", "High")]
    design = np.array([[row[column] == level for column, level in columns] for row in rows], dtype=float)
    return np.repeat([order[row["Sat"]] for row in rows], times), np.repeat(design, times, axis=0)


def turbine():
    """Ratings 1 (uncracked) and 2 (cracked), hours [100 h], one row a wheel."""
    rows = rows_of("turbine_wheel.csv")
    hours, ratings = [], []
    for row in rows:
        cracked, sound = int(row["cracked"]), int(row["uncracked"])
        hours += [float(row["hours_hundreds"])] * (cracked + sound)
        ratings += [2] * cracked + [1] * sound
    return np.array(ratings), np.array(hours)


def close(found, expected, tolerance):
    assert np.asarray(found) == pytest.approx(np.array(list(expected)), abs=tolerance, rel=0)


def test_every_entry_is_used():
    others = {"turbine_npmle", "turbine_calibration_weibull", "turbine_calibration_loglogistic"}
    assert set(CLM) | set(CLMM) | set(LAPLACE) | set(CROSSED) | set(TURBINE) | others == set(ENTRIES)
    assert (len(CLM), len(CLMM), len(LAPLACE), len(CROSSED)) == (6, 3, 3, 2)


@pytest.mark.parametrize("name", CLM)
def test_fixed_effects(name):
    """wine: clm(rating ~ temp + contact); housing: clm(Sat ~ Infl + Type + Cont, weights = Freq); computed.

    F(x) = 1 - exp(-exp(x)) is our Weibull link read from the other end: ratings counted down and columns negated
    give the same coefficients, and thresholds negated in the opposite order.
    """
    entry = ENTRIES[name]
    ratings, design = housing() if name.startswith("housing") else wine()[:2]
    expected, tolerance = entry["expected"], entry["tolerance"]
    levels = int(ratings.max())
    if entry["cdf"] == MIRRORED:
        fit = fit_rating_model(levels + 1 - ratings, None, -design, None, link="cloglog")
        thresholds, order = -fit.thresholds[::-1], np.r_[np.arange(levels - 1)[::-1], levels - 1, levels]
    else:
        fit = fit_rating_model(ratings, None, design, None, link=LINK_OF_CDF[entry["cdf"]])
        thresholds, order = fit.thresholds, np.arange(fit.standard_errors.size)
    close(np.concatenate((thresholds, fit.coefficients)), expected["coef"].values(), tolerance["coef"])
    close(fit.standard_errors[order], expected["se"].values(), tolerance["se"])
    assert fit.log_likelihood == pytest.approx(expected["logLik"], abs=tolerance["logLik"], rel=0)
    if "deviance" in expected:
        assert -2 * fit.log_likelihood == pytest.approx(expected["deviance"], abs=2 * tolerance["logLik"], rel=0)
    assert fit.unit_sd is None
    assert fit.hours_slope is None


@pytest.mark.parametrize("name", CLMM)
def test_unit_effect(name):
    """clmm(rating ~ temp + contact + (1 | judge), nAGQ = 10), with standard errors and judges' effects; computed."""
    entry = ENTRIES[name]
    ratings, design, judges, _ = wine()
    expected, tolerance = entry["expected"], entry["tolerance"]
    fit = fit_rating_model(ratings, None, design, judges, link=LINK_OF_CDF[entry["cdf"]], n_nodes=10)
    close(np.concatenate((fit.thresholds, fit.coefficients)), expected["coef"].values(), tolerance["coef"])
    assert fit.unit_sd == pytest.approx(expected["re_sd"], abs=tolerance["re_sd"], rel=0)
    assert fit.log_likelihood == pytest.approx(expected["logLik"], abs=tolerance["logLik"], rel=0)
    of_log_spread = fit.standard_errors[-1] / fit.unit_sd
    close(np.append(fit.standard_errors[:-1], of_log_spread), expected["se"].values(), tolerance["se"])
    assert fit.unit_labels == tuple(label.removeprefix("u") for label in expected["ranef"])
    close(fit.unit_effects, expected["ranef"].values(), tolerance["ranef"])


@pytest.mark.parametrize("name", CLMM)
def test_unit_effect_against_the_exact_integral(name):
    """The same fits by integration on 401 points outside R; computed."""
    entry = ENTRIES[name]
    ratings, design, judges, _ = wine()
    exact, tolerance = entry["expected"]["exact_integral"], entry["tolerance"]
    fit = fit_rating_model(ratings, None, design, judges, link=LINK_OF_CDF[entry["cdf"]], n_nodes=25)
    close(fit.thresholds, exact["thresholds"], tolerance["coef"])
    close(fit.coefficients, exact["coef"], tolerance["coef"])
    assert fit.unit_sd == pytest.approx(exact["sigma"], abs=tolerance["re_sd"], rel=0)
    assert fit.log_likelihood == pytest.approx(exact["logLik"], abs=tolerance["logLik"], rel=0)
    close(fit.standard_errors, exact["se"], tolerance["se"])


@pytest.mark.parametrize("rule", NODES)
@pytest.mark.parametrize("name", CLMM)
def test_other_numbers_of_nodes(name, rule):
    """clmm with nAGQ = 1, 5 and 20; computed. At one node clmm stops a little early: see the Laplace entries."""
    entry = ENTRIES[name]
    ratings, design, judges, _ = wine()
    expected = entry["expected"][rule]
    tolerance = entry["tolerance"] if rule != "nAGQ1" else ENTRIES[f"{name}_laplace"]["tolerance"]
    fit = fit_rating_model(ratings, None, design, judges, link=LINK_OF_CDF[entry["cdf"]], n_nodes=NODES[rule])
    close(np.concatenate((fit.thresholds, fit.coefficients)), expected["coef"].values(), tolerance["coef"])
    assert fit.unit_sd == pytest.approx(expected["re_sd"], abs=tolerance["coef"], rel=0)
    assert fit.log_likelihood == pytest.approx(expected["logLik"], abs=tolerance["logLik"], rel=0)


@pytest.mark.parametrize("name", LAPLACE)
def test_laplace(name):
    """clmm(..., nAGQ = 1) with standard errors; computed (logit agrees with the package's vignette, from memory)."""
    entry = ENTRIES[name]
    ratings, design, judges, _ = wine()
    expected, tolerance = entry["expected"], entry["tolerance"]
    fit = fit_rating_model(ratings, None, design, judges, link=LINK_OF_CDF[entry["cdf"]], n_nodes=1)
    close(np.concatenate((fit.thresholds, fit.coefficients)), expected["coef"].values(), tolerance["coef"])
    assert fit.unit_sd == pytest.approx(expected["re_sd"], abs=tolerance["coef"], rel=0)
    assert fit.log_likelihood == pytest.approx(expected["logLik"], abs=tolerance["logLik"], rel=0)
    of_log_spread = fit.standard_errors[-1] / fit.unit_sd
    close(np.append(fit.standard_errors[:-1], of_log_spread), expected["se"].values(), tolerance["se"])


@pytest.mark.parametrize("name", CROSSED)
def test_two_crossed_effects_of_which_one_is_zero(name):
    """clmm(rating ~ temp + contact + (1 | judge) + (1 | bottle), nAGQ = 1), bottle on the boundary; computed.

    Our model has one unit effect. With the bottles' spread at zero the crossed fit is the judge-only Laplace fit,
    which is held to the entry's tolerance; and with judges as fixed columns the bottles' spread is estimated at
    zero here too.
    """
    entry = ENTRIES[name]
    ratings, design, judges, bottles = wine()
    expected, tolerance, link = entry["expected"], entry["tolerance"], LINK_OF_CDF[entry["cdf"]]
    fit = fit_rating_model(ratings, None, design, judges, link=link, n_nodes=1)
    close(np.concatenate((fit.thresholds, fit.coefficients)), expected["coef"].values(), tolerance["coef"])
    assert fit.unit_sd == pytest.approx(expected["re_sd"]["judge"], abs=tolerance["coef"], rel=0)
    assert fit.log_likelihood == pytest.approx(expected["logLik"], abs=tolerance["logLik"], rel=0)
    as_columns = np.array([[judge == other for other in sorted(set(judges))[1:]] for judge in judges], dtype=float)
    of_bottles = fit_rating_model(ratings, None, np.hstack((design, as_columns)), bottles, link=link, n_nodes=1)
    assert of_bottles.unit_sd < float(tolerance["bottle_sd"].removeprefix("<"))


def hours_law(law):
    """(fit, mu, sigma, covariance of mu and log sigma) of log hours = mu + sigma x noise."""
    ratings, hours = turbine()
    fit = fit_rating_model(ratings, np.log(hours), None, None, link=LINK_OF_LAW[law])
    theta, slope = fit.thresholds[0], fit.hours_slope
    # Inside, the log hours are centred: threshold given = threshold inside + centre x slope.
    undo = np.array([[1.0, fit.centres[0]], [0.0, 1.0]])
    covariance = undo @ np.linalg.inv(-fit.maximum.hessian) @ undo.T
    to_law = np.array([[1 / slope, -theta / slope**2], [0.0, -1 / slope]])
    return fit, theta / slope, 1 / slope, to_law @ covariance @ to_law.T


@pytest.mark.parametrize("law", LINK_OF_LAW)
def test_turbine_wheels(law):
    """survreg on interval-censored hours (Surv type "interval2"), and glm on cracked or not; computed.

    survreg's standard errors are from the observed information. glm's are from the expected one, which differs for
    the Weibull link, so they are compared for the log-logistic only.
    """
    entry = ENTRIES[f"turbine_{law}"]
    expected, tolerance = entry["expected"], entry["tolerance"]
    fit, mu, sigma, covariance = hours_law(law)
    assert mu == pytest.approx(expected["mu"], abs=tolerance["mu"], rel=0)
    assert sigma == pytest.approx(expected["sigma"], abs=tolerance["sigma"], rel=0)
    assert fit.log_likelihood == pytest.approx(expected["logLik"], abs=tolerance["logLik"], rel=0)
    close(np.sqrt(np.diag(covariance)), expected["se_mu_logsigma"].values(), tolerance["se"])
    noise = -link_named(fit.link).quantile(1 - np.array([0.1, 0.5]))
    quantiles = np.exp(mu + sigma * noise)
    close(quantiles, expected["q10_q50"].values(), 1e-4)
    slopes = np.column_stack((quantiles, quantiles * noise * sigma))
    errors = np.sqrt(np.einsum("ij,jk,ik->i", slopes, covariance, slopes))
    close(errors, expected["se_q10_q50"].values(), 1e-4)
    close([-fit.thresholds[0], fit.hours_slope], expected["glm"]["coef"].values(), 1e-5)
    if law == "loglogistic":
        close(fit.standard_errors, expected["glm"]["se"].values(), tolerance["se"])
    else:
        assert np.exp(mu) == pytest.approx(expected["eta"], abs=1e-4)
        assert fit.hours_slope == pytest.approx(expected["beta"], abs=1e-5)


def test_turbine_wheels_without_a_law():
    """Nonparametric maximum likelihood by weighted pool-adjacent-violators; computed."""
    entry = ENTRIES["turbine_npmle"]
    ratings, hours = turbine()
    steps = isotonic_estimate(hours, (ratings == 2).astype(float))
    assert steps.hours.tolist() == [float(hour) for hour in entry["expected"]["F"]]
    close(steps.share, entry["expected"]["F"].values(), entry["tolerance"]["F"])
    raw = [np.mean(ratings[hours == hour] == 2) for hour in steps.hours]
    close(raw, entry["expected"]["raw"].values(), entry["tolerance"]["F"])
    assert steps.drains.sum() == ratings.size


@pytest.mark.parametrize("law", LINK_OF_LAW)
def test_calibration_of_turbine_wheels(law):
    """Pearson and deviance of grouped data, Brier score, Spiegelhalter's z (1986, Stat. Med. 5, 421); computed."""
    entry = ENTRIES[f"turbine_calibration_{law}"]
    expected, tolerance = entry["expected"], entry["tolerance"]
    ratings, hours = turbine()
    fit = fit_rating_model(ratings, np.log(hours), None, None, link=LINK_OF_LAW[law])
    chance = link_named(fit.link).survival(fit.thresholds[0] - fit.hours_slope * np.log(hours))
    cracked = (ratings == 2).astype(float)
    distinct, place, wheels = np.unique(hours, return_inverse=True, return_counts=True)
    fitted = np.bincount(place, weights=chance) / wheels
    found = np.bincount(place, weights=cracked)
    close(fitted, expected["fitted"], 1e-7)
    pearson = np.sum((found - wheels * fitted) ** 2 / (wheels * fitted * (1 - fitted)))
    assert pearson == pytest.approx(expected["pearson_chi2"], abs=tolerance["chi2"], rel=0)
    sound = wheels - found
    some = found > 0
    terms = sound * np.log(sound / (wheels * (1 - fitted)))
    terms[some] += found[some] * np.log(found[some] / (wheels * fitted)[some])
    assert 2 * terms.sum() == pytest.approx(expected["deviance"], abs=tolerance["chi2"], rel=0)
    assert distinct.size - 2 == expected["df"]
    assert brier_score_loss(cracked, chance) == pytest.approx(expected["brier"], abs=tolerance["brier"], rel=0)
    spread = np.sqrt(np.sum((1 - 2 * chance) ** 2 * chance * (1 - chance)))
    z = np.sum((cracked - chance) * (1 - 2 * chance)) / spread
    assert z == pytest.approx(expected["spiegelhalter_z"], abs=tolerance["chi2"], rel=0)
