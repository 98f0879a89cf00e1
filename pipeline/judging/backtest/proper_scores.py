"""Scores of predicted ratings and risks, all lower is better and all proper: saying what one believes scores best."""

from __future__ import annotations

import numpy as np

from draincurve.schemas.array_types import Floats, Integers


def ranked_probability_scores(probabilities: Floats, low: Integers, *, high: Integers) -> Floats:
    """Ranked probability score of each prediction, (n,), from 0 (sure and right) to 1 (sure and as wrong as can be).

    probabilities : (n, K) chance of each rating; low, high : (n,) ratings from 1. The mean over the K - 1 cuts of the
    squared difference between the predicted and the seen chance of a rating at or under the cut (Epstein 1969,
    J. Appl. Meteorol. 8, 985-987; Murphy 1971). A cut inside a typed range was not seen, and adds nothing.
    """
    cuts = np.arange(1, probabilities.shape[1])
    said = np.cumsum(probabilities, axis=1)[:, :-1]
    under, over = high[:, None] <= cuts, low[:, None] > cuts
    return np.asarray((np.where(under | over, said - under, 0.0) ** 2).mean(axis=1))


def brier_score(risk: Floats, past: Floats) -> float:
    """Mean squared difference of the predicted risk (n,) and what came (n,), 1 or 0 (Brier 1950)."""
    return float(np.mean((risk - past) ** 2))


def spiegelhalter_z(risk: Floats, past: Floats) -> float | None:
    """How far the Brier score is from what the risks themselves promise, in its standard errors.

    About standard normal where the risks are right (Spiegelhalter 1986, Stat. Med. 5, 421-433). None where every
    risk is 0, a half or 1, for which the test is blind.
    """
    weight = 1.0 - 2.0 * risk
    variance = float(np.sum(weight**2 * risk * (1.0 - risk)))
    return float(np.sum((past - risk) * weight) / np.sqrt(variance)) if variance > 1e-12 else None
