"""Small invented logs for the tests of the fit: ratings with ranges, log hours, columns, units of chosen sizes."""

from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.fitting.likelihood import Likelihood, Ratings
from draincurve.pipeline.fitting.links import LINKS

THRESHOLDS = np.array([-2.0, -0.4, 1.1, 2.6])


@dataclass(frozen=True)
class InventedLog:
    low: np.ndarray
    high: np.ndarray
    log_hours: np.ndarray
    design: np.ndarray
    units: np.ndarray


def invented_log(sizes, seed=0, unit_sd=0.8, slope=2.0, coefficients=(0.6, -0.4), ranges=0.2, link="logit"):
    """One unit for each size; a share of the ratings is widened to a range. Cuts are at 12 hours."""
    rng = np.random.default_rng(seed)
    units = np.repeat(np.arange(len(sizes)), sizes)
    n = units.size
    log_hours = np.log(rng.uniform(5, 30, n))
    design = rng.normal(size=(n, len(coefficients)))
    noise = {"logit": rng.logistic, "probit": rng.normal, "cloglog": rng.gumbel}[link](size=n)
    eta = slope * (log_hours - np.log(12)) + design @ np.array(coefficients)
    eta = eta + unit_sd * rng.normal(size=len(sizes))[units]
    low = 1 + np.searchsorted(THRESHOLDS, eta + noise)
    wide = rng.random(n) < ranges
    down = rng.random(n) < 0.5
    high = np.where(wide & ~down, np.minimum(low + 1, 5), low)
    low = np.where(wide & down, np.maximum(low - 1, 1), low)
    return InventedLog(low.astype(np.int64), high.astype(np.int64), log_hours, design, units)


def likelihood_of(log, link, nodes):
    """(likelihood, natural parameters near the truth) of a log whose rows are sorted by unit."""
    columns = np.column_stack((log.log_hours - np.log(12), log.design))
    starts = np.searchsorted(log.units, np.arange(log.units.max() + 2)).astype(np.int64)
    data = Ratings(log.low, log.high, np.ascontiguousarray(columns), starts, 5, True)
    natural = np.concatenate((THRESHOLDS, [1.8], np.full(log.design.shape[1], 0.3), [0.9]))
    return Likelihood(data, LINKS[link], nodes=nodes), natural
