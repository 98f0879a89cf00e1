import inspect

import numpy as np
import pytest
from invented_ratings import invented_log
from scipy.optimize import minimize

import draincurve
from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.schemas.errors import FitError
from draincurve.schemas.settings import Priors

EVERY_LINK = pytest.mark.parametrize("link", LINKS)
PRIORS = Priors()


@pytest.fixture(scope="module")
def log():
    return invented_log([6] * 30, seed=1)


def fitted(log, rows=slice(None), **options):
    given = {"link": "logit", "ratings_high": log.high[rows]} | options
    return fit_rating_model(log.low[rows], log.log_hours[rows], log.design[rows], log.units[rows], **given)


def differenced(objective, working, step=1e-3):
    found = np.zeros(working.size)
    for j in range(working.size):
        for times, weight in ((-2, 1), (-1, -8), (1, 8), (2, -1)):
            moved = working.copy()
            moved[j] += times * step
            found[j] += weight * objective.evaluate(moved).value / (12 * step)
    return found


# ---- the contract


def test_signature_and_attributes_are_those_of_the_contract(log):
    names = list(inspect.signature(draincurve.fit_rating_model).parameters)
    assert names[:4] == ["ratings", "log_hours", "design", "units"]
    defaults = {name: item.default for name, item in inspect.signature(fit_rating_model).parameters.items()}
    assert (defaults["link"], defaults["n_nodes"], defaults["prior"]) == ("logit", 9, None)
    fit = fitted(log)
    assert fit.thresholds.shape == (4,)
    assert np.all(np.diff(fit.thresholds) > 0)
    assert isinstance(fit.hours_slope, float)
    assert fit.coefficients.shape == (2,)
    assert fit.unit_sd >= 0
    assert isinstance(fit.log_likelihood, float)
    assert fit.standard_errors.shape == (4 + 1 + 2 + 1,)
    assert np.all(fit.standard_errors > 0)
    assert fit.converged


def test_lists_tuples_and_text_labels_will_do(log):
    words = [f"unit {unit:02d}" for unit in log.units]
    plain = fit_rating_model(log.low.tolist(), tuple(log.log_hours), log.design.tolist(), words)
    arrays = fit_rating_model(log.low, log.log_hours, log.design, log.units)
    assert plain.log_likelihood == arrays.log_likelihood
    assert plain.unit_labels == tuple(sorted(set(words)))


def test_input_is_left_alone(log):
    copies = [item.copy() for item in (log.low, log.high, log.log_hours, log.design, log.units)]
    fitted(log, prior=PRIORS)
    for before, after in zip(copies, (log.low, log.high, log.log_hours, log.design, log.units), strict=True):
        assert np.array_equal(before, after)


def test_without_hours_columns_or_units(log):
    fit = fit_rating_model(log.low, None, None, None)
    assert fit.hours_slope is None
    assert fit.unit_sd is None
    assert fit.coefficients.shape == (0,)
    shares = np.array([np.mean(log.low <= k) for k in range(1, 5)])
    assert fit.thresholds == pytest.approx(np.log(shares / (1 - shares)), abs=1e-6)


@pytest.mark.parametrize("prior", [None, PRIORS], ids=["likelihood", "prior"])
@EVERY_LINK
def test_log_hours_are_used_on_the_scale_given(log, link, prior):
    """Another unit of time moves the thresholds by slope x log of the unit, and nothing else."""
    shift = np.log(60.0)
    first = fitted(log, link=link, prior=prior)
    second = fit_rating_model(
        log.low, log.log_hours + shift, log.design, log.units, link=link, prior=prior, ratings_high=log.high
    )
    assert second.hours_slope == pytest.approx(first.hours_slope, abs=1e-6)
    assert second.thresholds == pytest.approx(first.thresholds + shift * first.hours_slope, abs=1e-5)
    assert second.coefficients == pytest.approx(first.coefficients, abs=1e-6)
    assert second.unit_sd == pytest.approx(first.unit_sd, abs=1e-6)
    assert second.log_likelihood == pytest.approx(first.log_likelihood, abs=1e-7)
    assert second.standard_errors[4:] == pytest.approx(first.standard_errors[4:], rel=1e-5)


def test_a_column_in_another_unit_only_rescales_its_coefficient(log):
    scaled = fit_rating_model(log.low, log.log_hours, log.design * [1000.0, 0.01], log.units, ratings_high=log.high)
    first = fitted(log)
    assert scaled.coefficients * [1000.0, 0.01] == pytest.approx(first.coefficients, rel=1e-6)
    assert scaled.log_likelihood == pytest.approx(first.log_likelihood, abs=1e-8)


@pytest.mark.parametrize("prior", [None, PRIORS], ids=["likelihood", "prior"])
def test_order_of_rows_and_names_of_units_do_not_matter(log, prior):
    shuffle = np.random.default_rng(8).permutation(log.low.size)
    first = fitted(log, prior=prior)
    second = fitted(log, shuffle, prior=prior)
    renamed = fit_rating_model(
        log.low, log.log_hours, log.design, 1000 - log.units, prior=prior, ratings_high=log.high
    )
    for other in (second, renamed):
        assert other.thresholds == pytest.approx(first.thresholds, abs=1e-7)
        assert other.unit_sd == pytest.approx(first.unit_sd, abs=1e-7)
        assert other.standard_errors == pytest.approx(first.standard_errors, rel=1e-6)
        assert other.log_likelihood == pytest.approx(first.log_likelihood, abs=1e-9)
    assert second.unit_effects == pytest.approx(first.unit_effects, abs=1e-6)
    assert renamed.unit_effects[::-1] == pytest.approx(first.unit_effects, abs=1e-6)


def test_two_fits_have_the_same_bits(log):
    one, two = fitted(log, prior=PRIORS), fitted(log, prior=PRIORS)
    assert one.standard_errors.tobytes() == two.standard_errors.tobytes()
    assert one.unit_effects.tobytes() == two.unit_effects.tobytes()


@EVERY_LINK
def test_standard_errors_come_from_the_curvature_on_the_scale_given(log, link):
    """Against the differenced log likelihood of the natural parameters, in the order of the contract."""
    fit = fitted(log, link=link)
    columns = np.column_stack((log.log_hours, log.design))[fit.order]
    likelihood = fit.objective.likelihood
    assert likelihood.ratings.design == pytest.approx(columns - columns.mean(axis=0))
    found = np.concatenate((fit.thresholds, [fit.hours_slope], fit.coefficients, [fit.unit_sd]))

    def gradient(natural):
        inside = natural.copy()
        inside[:4] -= fit.centres @ natural[4:7]
        by_inside = likelihood.value_and_gradient(inside)[1]
        by_inside[4:7] -= by_inside[:4].sum() * fit.centres
        return by_inside

    step = 1e-5
    hessian = np.array(
        [(gradient(found + step * e) - gradient(found - step * e)) / (2 * step) for e in np.eye(found.size)]
    )
    errors = np.sqrt(np.diag(np.linalg.inv(-(hessian + hessian.T) / 2)))
    # Louis' identity at 9 nodes against the derivative of the 9-node sum: the two meet as nodes grow.
    assert fit.standard_errors == pytest.approx(errors, rel=2e-3)
    assert gradient(found) == pytest.approx(np.zeros(found.size), abs=1e-5)


@pytest.mark.parametrize("pooled", [(), ((0, 1),)], ids=["plain", "pooled"])
@EVERY_LINK
def test_the_posterior_mode_is_a_mode(log, link, pooled):
    fit = fitted(log, link=link, prior=PRIORS, pooled=pooled)
    mode = fit.maximum.point.working
    assert differenced(fit.objective, mode) == pytest.approx(np.zeros(mode.size), abs=2e-5)
    elsewhere = mode + 0.3 * np.random.default_rng(3).normal(size=mode.size)
    found = fit.objective.evaluate(elsewhere)
    assert found.gradient == pytest.approx(differenced(fit.objective, elsewhere), rel=1e-5, abs=1e-4)
    assert found.value < fit.maximum.point.value
    steps = 1e-5 * np.eye(mode.size)
    rows = [
        fit.objective.evaluate(elsewhere + e).gradient - fit.objective.evaluate(elsewhere - e).gradient for e in steps
    ]
    assert fit.objective.hessian(found) == pytest.approx(np.array(rows) / 2e-5, rel=5e-3, abs=0.05)
    assert fit.objective.log_density(elsewhere[None, :])[0] == pytest.approx(found.value, abs=1e-6)


def test_a_wide_prior_gives_way_to_the_likelihood(log):
    wide = Priors(100.0, 1.5, 10.0, 2.0, 10.0, 100.0, 100.0, 100.0)
    free, held = fitted(log), fitted(log, prior=wide)
    # Flat in logs is not flat: what is left of the prior is of the order of the squared standard error.
    assert held.hours_slope == pytest.approx(free.hours_slope, abs=0.3 * free.standard_errors[4])
    assert held.coefficients == pytest.approx(free.coefficients, abs=0.01)
    tight = fitted(log, prior=Priors(hours_slope=5.0, hours_slope_log_sd=0.01))
    assert tight.hours_slope == pytest.approx(5.0, rel=0.02)


def test_pooled_levels_shrink_to_each_other(log):
    rider = np.eye(6)[np.random.default_rng(1).integers(6, size=log.low.size)]
    pooled = fit_rating_model(
        log.low, log.log_hours, rider, log.units, prior=PRIORS, pooled=[range(6)], ratings_high=log.high
    )
    free = fit_rating_model(log.low, log.log_hours, rider, log.units, prior=PRIORS, ratings_high=log.high)
    assert np.ptp(pooled.coefficients) < np.ptp(free.coefficients)


# ---- levels and ranges


def moved_up(low):
    return low + 1


def without_inner_level(low):
    return np.where(low == 3, 2, low)


@pytest.mark.parametrize(
    ("changed", "levels", "named"),
    [
        (moved_up, None, "1 to 6 nothing is rated 1"),
        (without_inner_level, 5, "1 to 5 nothing is rated 3"),
        (np.copy, 6, "1 to 6 nothing is rated 6"),
    ],
)
def test_a_level_that_does_not_occur_needs_a_prior(log, changed, levels, named):
    ratings = changed(log.low)
    with pytest.raises(FitError, match=rf"on the scale {named} .*give a prior, or number the levels"):
        fit_rating_model(ratings, log.log_hours, log.design, log.units, levels=levels)
    fit = fit_rating_model(ratings, log.log_hours, log.design, log.units, levels=levels, prior=PRIORS)
    assert np.all(np.isfinite(fit.thresholds))
    assert np.all(np.isfinite(fit.standard_errors))


def test_levels_that_occur_only_inside_ranges_need_a_prior(log):
    """Every 2 and 3 was typed as 2-3: nothing tells them apart."""
    both = (log.low == 2) | (log.low == 3)
    low, high = np.where(both, 2, log.low), np.where(both, 3, log.low)
    with pytest.raises(FitError, match=r"rated 2 or 3 \(other than inside wider ranges\)"):
        fit_rating_model(low, log.log_hours, log.design, log.units, ratings_high=high)


def test_the_likelihood_of_a_range_sums_over_its_levels():
    low, high = np.array([1, 2, 3, 2, 1, 3, 2]), np.array([1, 3, 3, 2, 2, 3, 2])
    hours = np.log([3.0, 20, 30, 9, 8, 25, 12])
    fit = fit_rating_model(low, hours, None, None, ratings_high=high, prior=PRIORS, levels=3)
    cuts = np.concatenate(([-np.inf], fit.thresholds, [np.inf]))
    eta = fit.hours_slope * hours
    cdf = LINKS["logit"].cdf
    assert fit.log_likelihood == pytest.approx(np.sum(np.log(cdf(cuts[high] - eta) - cdf(cuts[low - 1] - eta))))


def test_a_range_over_the_whole_scale_says_nothing(log):
    rows = np.arange(log.low.size)
    extra = np.concatenate((rows, rows[:5]))
    low, high = log.low[extra], log.high[extra]
    low[-5:], high[-5:] = 1, 5
    more = fit_rating_model(low, log.log_hours[extra], None, log.units[extra], ratings_high=high, prior=PRIORS)
    fewer = fit_rating_model(log.low, log.log_hours, None, log.units, ratings_high=log.high, prior=PRIORS)
    assert more.log_likelihood == pytest.approx(fewer.log_likelihood, abs=1e-2)
    assert more.hours_slope == pytest.approx(fewer.hours_slope, rel=1e-2)


# ---- little data


@pytest.mark.parametrize(
    ("ratings", "hours", "units"),
    [
        ([1, 2], [5.0, 20.0], ["a", "b"]),
        ([1, 2, 4, 5], [5.0, 20.0, 30.0, 60.0], ["a"] * 4),
        ([1] * 12, [10.0] * 12, list("aabbccddeeff")),
        ([5] * 6, [3.0, 5, 8, 9, 10, 12], list("aabbcc")),
        ([3], [10.0], ["a"]),
        ([1] * 10 + [5] * 10, [5.0] * 10 + [50.0] * 10, ["a"] * 10 + ["b"] * 10),
    ],
    ids=["two rows", "one unit", "all clean", "all past", "one row", "separated"],
)
@EVERY_LINK
def test_with_a_prior_there_is_always_an_honest_answer(link, ratings, hours, units):
    fit = fit_rating_model(ratings, np.log(hours), None, units, link=link, prior=PRIORS, levels=5)
    assert fit.converged
    values = np.concatenate((fit.thresholds, [fit.hours_slope, fit.unit_sd, fit.log_likelihood]))
    assert np.all(np.isfinite(values))
    assert np.all(np.diff(fit.thresholds) > 0)
    assert fit.hours_slope > 0
    assert np.all(fit.standard_errors > 0)
    # Width: with next to nothing seen, the slope is known no better than the prior says (half of its sd allowed).
    assert fit.standard_errors[4] > 0.25 * PRIORS.hours_slope_log_sd * fit.hours_slope


@EVERY_LINK
def test_all_clean_puts_the_limit_beyond_the_longest_fill(link):
    hours = np.linspace(4, 20, 12)
    fit = fit_rating_model([1] * 12, np.log(hours), None, None, link=link, prior=PRIORS, levels=5)
    chance = LINKS[link].survival(fit.thresholds[2] - fit.hours_slope * np.log(20.0))
    assert 0.0 < chance < 0.2


# ---- no finite answer


def separated_rows():
    ratings = np.array([1] * 10 + [2] * 10)
    return ratings, np.repeat([0.0, 1.0], 10)


@EVERY_LINK
def test_separation_without_a_prior_is_refused(link):
    ratings, column = separated_rows()
    with pytest.raises(FitError, match=r"design column 1 tells the ratings apart perfectly.*give a prior"):
        fit_rating_model(ratings, None, column, None, link=link)
    with pytest.raises(FitError, match="log_hours tells the ratings apart perfectly"):
        fit_rating_model(ratings, column, None, None, link=link)


@pytest.mark.parametrize("end", [1, 5])
@EVERY_LINK
def test_a_level_of_a_column_with_one_end_of_the_scale_only_is_refused(log, link, end):
    column = np.zeros(log.low.size)
    column[np.flatnonzero(log.low == end)[:4]] = 1.0
    with pytest.raises(FitError, match="design column 1 tells the ratings apart"):
        fit_rating_model(log.low, log.log_hours, column, None, link=link)


@EVERY_LINK
def test_units_that_fix_their_ratings_are_refused(link):
    with pytest.raises(FitError, match="the unit effect tells the ratings apart"):
        fit_rating_model(np.repeat([1, 2], 30), None, None, np.repeat(np.arange(6), 10), link=link)


def steep_log(slope, low_hours, high_hours, rows=400):
    """Two levels with their threshold at 12 hours, and a slope so steep that few drains of both overlap."""
    rng = np.random.default_rng(3)
    log_hours = rng.uniform(np.log(low_hours), np.log(high_hours), rows)
    return 1 + (slope * (log_hours - np.log(12)) + rng.logistic(size=rows) > 0).astype(int), log_hours


@pytest.mark.parametrize(("slope", "low_hours", "high_hours"), [(11.9, 2, 80), (4.7, 0.3, 250), (60.0, 2, 80)])
def test_a_steep_slope_is_no_separation_where_drains_of_both_ratings_overlap(slope, low_hours, high_hours):
    ratings, log_hours = steep_log(slope, low_hours, high_hours)
    fit = fit_rating_model(ratings, log_hours, None, None)
    assert fit.hours_slope * np.ptp(log_hours) > 25

    def minus_log_likelihood(at):
        predictor = at[1] * (log_hours - np.log(12)) - at[0]
        return np.sum(np.logaddexp(0.0, np.where(ratings == 2, -predictor, predictor)))

    own = minimize(minus_log_likelihood, [0.0, 2.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11})
    assert fit.log_likelihood == pytest.approx(-own.fun, abs=1e-8)
    assert fit.hours_slope == pytest.approx(own.x[1], rel=1e-5)


@EVERY_LINK
def test_two_drains_out_of_order_by_little_give_a_finite_answer_and_in_order_none(link):
    column = np.linspace(0.0, 1.0, 20)
    ratings = np.where(column > 0.5, 2, 1)
    column[10] = column[9] + 1e-3
    with pytest.raises(FitError, match="design column 1 tells the ratings apart"):
        fit_rating_model(ratings, None, column, None, link=link)
    ratings[9], ratings[10] = 2, 1
    fit = fit_rating_model(ratings, None, column, None, link=link)
    assert fit.converged
    assert fit.coefficients[0] > 30 * LINKS[link].scale


def test_one_drain_a_unit_is_no_separation():
    # A normal unit effect on normal noise is normal noise again, so that the units cannot change the likelihood.
    ratings, log_hours = steep_log(2.2, 4, 40)
    fit = fit_rating_model(ratings, log_hours, None, np.arange(ratings.size), link="probit", n_nodes=25)
    bare = fit_rating_model(ratings, log_hours, None, None, link="probit")
    assert fit.log_likelihood == pytest.approx(bare.log_likelihood, abs=1e-6)


def test_columns_that_cannot_be_seen_are_named(log):
    same = np.zeros(log.low.size)
    with pytest.raises(FitError, match="soft spring is the same in every row"):
        fit_rating_model(log.low, log.log_hours, same, log.units, column_names=["soft spring"])
    with pytest.raises(FitError, match="log_hours is the same in every row"):
        fit_rating_model(log.low, same + 2.3, None, log.units)
    with pytest.raises(FitError, match="design column 2 is the same in every row"):
        fit_rating_model(log.low, log.log_hours, np.column_stack((log.design[:, 0], same + 7)), log.units)
    copied = np.column_stack((log.design[:, 0], 2 * log.design[:, 0] + 1))
    with pytest.raises(FitError, match="design column 2 cannot be distinguished"):
        fit_rating_model(log.low, log.log_hours, copied, log.units)
    held = fit_rating_model(log.low, log.log_hours, copied, log.units, prior=PRIORS)
    assert np.all(np.isfinite(held.standard_errors))


@pytest.mark.parametrize("value", [1, 3])
def test_one_level_only_is_refused_without_a_prior(value):
    with pytest.raises(FitError, match=r"nothing is rated 1 or 2|no other level is known"):
        fit_rating_model([value] * 8, np.log(np.arange(1, 9)), None, None)


# ---- bad input


BAD = {
    "no rows": ({"ratings": [], "log_hours": []}, "at least one rating"),
    "words": ({"ratings": ["grey"] * 6}, "ratings: expected numbers"),
    "missing rating": ({"ratings": [1, 2, None, 3, 2, 1]}, "ratings: found a missing or infinite"),
    "nan rating": ({"ratings": [1, 2, np.nan, 3, 2, 1]}, "ratings: found a missing or infinite"),
    "half": ({"ratings": [1, 2, 2.5, 3, 2, 1]}, "ratings: expected whole numbers"),
    "zero": ({"ratings": [0, 2, 2, 3, 2, 1]}, "ratings: expected 1 to 3"),
    "over the scale": ({"levels": 2}, "ratings: expected 1 to 2"),
    "square": ({"ratings": [[1, 2], [2, 3], [3, 1]]}, "ratings: expected a list of ratings"),
    "range upside down": ({"ratings_high": [1, 2, 2, 3, 2, 1], "ratings": [1, 2, 3, 3, 2, 1]}, "lower end first"),
    "range too short": ({"ratings_high": [1, 2]}, "lower end first"),
    "hours too few": ({"log_hours": [1.0, 2.0]}, "log_hours: expected 6 values"),
    "hours in two columns": ({"log_hours": np.ones((6, 2))}, "log_hours: expected 6 values"),
    "hours missing": ({"log_hours": [1.0, 2.0, np.nan, 1.0, 2.0, 3.0]}, "log_hours: found a missing"),
    "log of zero hours": ({"log_hours": [1.0, 2.0, -np.inf, 1.0, 2.0, 3.0]}, "log_hours: found a missing"),
    "design too short": ({"design": np.ones((4, 2))}, "design: expected 6 rows"),
    "design twice as long": ({"design": np.arange(12.0)}, "design: expected 6 rows"),
    "design of words": ({"design": [["wet"]] * 6}, "design: expected numbers"),
    "ragged design": ({"design": [[1.0, 2.0], [1.0], [1.0], [1.0], [1.0], [1.0]]}, "design: expected numbers"),
    "units too few": ({"units": ["a", "b"]}, "units: expected 6 labels"),
    "unit without a name": ({"units": ["a", None, "a", "b", "b", "b"]}, "units: row 2 has no label"),
    "unit not a number": ({"units": [1.0, 2.0, np.nan, 1.0, 2.0, 1.0]}, "units: row 3 has no label"),
    "unknown link": ({"link": "loglog"}, "expected one of logit, probit, cloglog"),
    "no nodes": ({"n_nodes": 0}, "n_nodes = 0: expected a whole number from 1"),
    "half a node": ({"n_nodes": 2.5}, "n_nodes = 2.5: expected a whole number"),
    "pooled without a prior": ({"design": np.arange(6.0), "pooled": [(0,)]}, "needs a prior"),
    "pooled column that is not there": ({"pooled": [(3,)], "prior": PRIORS}, "pooled: expected columns"),
    "pooled twice": (
        {"design": np.arange(12.0).reshape(6, 2), "pooled": [(0,), (0, 1)], "prior": PRIORS},
        "each at most once",
    ),
    "factors too few": (
        {"design": np.arange(12.0).reshape(6, 2), "column_scales": [1.0], "prior": PRIORS},
        "column_scales: expected 2 numbers above 0",
    ),
    "factor of zero": ({"design": np.arange(6.0), "column_scales": [0.0], "prior": PRIORS}, "above 0"),
}


@pytest.mark.parametrize(("changes", "words"), BAD.values(), ids=BAD.keys())
def test_bad_input_is_named(changes, words):
    good = {
        "ratings": [1, 2, 2, 3, 2, 1],
        "log_hours": [1.0, 2.0, 2.5, 3.0, 2.2, 1.5],
        "design": None,
        "units": ["a", "a", "a", "b", "b", "b"],
    }
    with pytest.raises(FitError, match=words):
        fit_rating_model(**(good | changes))
