"""Scores of predicted ratings, risks and values. All are proper (the truth scores best); lower is better."""

from __future__ import annotations

import numpy as np

from draincurve.schemas.array_types import Floats, Integers


def ranked_probability_scores(probabilities: Floats, low: Integers, *, high: Integers) -> Floats:
    """Ranked probability score of each prediction, (n,), from 0 (certain and right) to 1 (certain and most wrong).

    probabilities : (n, K) of each rating; low, high : (n,) ratings from 1. The mean over levels 1 to K - 1 of the
    squared difference between the predicted probability of a rating at or under the level and the observed 0 or 1
    (Epstein 1969, J. Appl. Meteorol. 8, 985-987; Murphy 1971). A level inside a typed range is not observed, and adds
    nothing.
    """
    levels = np.arange(1, probabilities.shape[1])
    predicted = np.cumsum(probabilities, axis=1)[:, :-1]
    under, over = high[:, None] <= levels, low[:, None] > levels
    return np.asarray((np.where(under | over, predicted - under, 0.0) ** 2).mean(axis=1))


def continuous_scores(points: Floats, values: Floats, *, side: Integers) -> Floats:
    """Continuous ranked probability score of each prediction, (n,), in the unit of the values.

    points : (n, S), equally likely values in ascending order, of each prediction or (1, S) of all
    values : (n,), what came; side : (n,), -1 where that is only known to be under the value, 1 where over it, else 0

    The integral over all levels of the squared difference between the predicted probability of a value at or under
    the level and the observed 0 or 1, which for a prediction without spread is its error (Gneiting & Raftery 2007,
    JASA 102, 359-378, section 4.2; from memory). Levels at which a bound leaves the outcome unknown add nothing, as
    with typed ranges.
    """
    value = values[:, None]
    least, most = np.minimum(points[:, :1], value), np.maximum(points[:, -1:], value)
    spread = np.broadcast_to(points, (values.size, points.shape[1]))
    ends = np.hstack((least, spread, most))
    share = np.arange(points.shape[1] + 1) / points.shape[1]
    under = (np.diff(np.minimum(ends, value), axis=1) * share**2).sum(axis=1)
    over = (np.diff(np.maximum(ends, value), axis=1) * (1.0 - share) ** 2).sum(axis=1)
    return np.asarray(np.where(side < 0, 0.0, under) + np.where(side > 0, 0.0, over))


def brier_score(risk: Floats, past: Floats) -> float:
    """Mean squared difference between the predicted risk (n,) and the outcome (n,), 1 or 0 (Brier 1950)."""
    return float(np.mean((risk - past) ** 2))


def spiegelhalter_z(risk: Floats, past: Floats) -> float | None:
    """Difference between the Brier score and its expectation under the predicted risks, in standard errors.

    Approximately standard normal where the risks are right (Spiegelhalter 1986, Stat. Med. 5, 421-433). None where
    every risk is 0, a half or 1, so that the difference has no variance.
    """
    weight = 1.0 - 2.0 * risk
    variance = float(np.sum(weight**2 * risk * (1.0 - risk)))
    return float(np.sum((past - risk) * weight) / np.sqrt(variance)) if variance > 1e-12 else None
