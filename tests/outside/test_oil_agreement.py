"""Two channels joined against a long run of a general-purpose sampler over everything at once.

The long runs stand in long_runs/oil_summaries.json; `python -m tests.outside.long_runs.oil_runs` made them, from a
density written anew. The program fits the channels apart and joins them after, so agreement is close and not exact:
where the channels of six units agree strongly it takes the risk for up to three points too high, and nowhere for one
too low.
"""

import json

import numpy as np
import polars as pl
import pytest
from long_runs.oil_runs import AT_HOURS, DATA_SETS, SUMMARIES, channel_fits, log_likelihoods, log_prior

from draincurve.pipeline.deciding.oil_curves import oil_curves, risk_at
from draincurve.pipeline.fitting import OilFit
from draincurve.pipeline.fitting.joint.joint_fit import join_channels
from draincurve.schemas.settings import Settings

LONG_RUNS = json.loads(SUMMARIES.read_text(encoding="utf-8"))
SETTINGS = Settings()


@pytest.mark.parametrize("name", DATA_SETS)
def test_association_and_risks_agree_with_the_long_run(name):
    run, fits = LONG_RUNS[name], channel_fits(name)
    assert run["least_effective_draws"] >= 1_000
    oil = OilFit(*join_channels(fits, SETTINGS.priors, rng=np.random.default_rng(1)))
    for found, (mean, sd) in (
        (oil.joint.association.correlation, run["correlation"]),
        (oil.joint.association.log_odds_ratio, run["log_odds_ratio"]),
    ):
        assert (found.mean() - mean) / sd == pytest.approx(0.0, abs=0.35)
        assert found.std() / sd == pytest.approx(1.0, abs=0.25)
    curves = oil_curves(oil, pl.DataFrame({"unit_key": oil.joint.unit_keys}), SETTINGS, np.random.default_rng(2))
    risks = risk_at(curves, np.full(len(oil.joint.unit_keys), AT_HOURS))
    over = risks - np.array(run["unit_risks"])
    assert over.min() > -0.01
    assert over.max() < 0.03


@pytest.mark.parametrize("name", DATA_SETS)
def test_the_long_run_was_made_for_this_density(name):
    point = np.array(LONG_RUNS[name]["point"])[None]
    found = log_prior(point) + log_likelihoods(name, point)[0]
    assert found == pytest.approx(LONG_RUNS[name]["log_density_at_point"], abs=1e-4)


@pytest.mark.parametrize("name", DATA_SETS)
def test_without_association_the_density_is_that_of_two_fits_apart(name):
    first, second = channel_fits(name).values()
    own = [fit.fit.maximum.point.working for fit in (first, second)]
    points = np.array([np.concatenate((own[0] + step, own[1] - step, [0.0, 0.0])) for step in (0.0, 0.1)])
    here = log_prior(points) + log_likelihoods(name, points)[0]
    apart = first.fit.objective.log_density(points[:, :6]) + second.fit.objective.log_density(points[:, 6:12])
    assert np.diff(here) == pytest.approx(np.diff(apart), abs=0.01)
