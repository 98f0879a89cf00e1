"""The line of a risk curve is the mean over the posterior, the risk by which intervals are set."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.special import expit

from draincurve.pipeline.judging.risk_curves import _curve


def test_the_line_is_the_mean_risk_of_all_draws_and_units() -> None:
    rng = np.random.default_rng(3)
    hours, slope = np.array([2.0, 5.0, 12.0]), np.exp(rng.normal(0.7, 0.2, 400))
    thresholds = slope[:, None] * np.log(15.0) + rng.normal(0.0, 1.5, (400, 1)) + np.array([-1.0, 1.0])
    fit: Any = SimpleNamespace(fit=SimpleNamespace(link="logit"), hours_slope=slope)
    curve = _curve("Plain", "Fork 5", hours=hours, fit=fit, thresholds=thresholds, draws=np.arange(400))
    by_draw = expit(slope[:, None, None] * np.log(hours)[:, None] - thresholds[:, None, :]).mean(axis=2)
    assert curve.risk == pytest.approx(by_draw.mean(axis=0))
    assert (curve.risk[:2] > 1.1 * np.median(by_draw, axis=0)[:2]).all(), "which is not the median"
    assert curve.low == pytest.approx(np.quantile(by_draw, 0.05, axis=0))
