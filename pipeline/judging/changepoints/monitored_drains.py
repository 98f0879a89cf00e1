"""Drains of a channel for changepoint detection: scores given the unit's earlier drains, and their sums."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from draincurve.pipeline.describing import LevelGroups
from draincurve.pipeline.fitting import ChannelFit, Link
from draincurve.pipeline.fitting.quadrature import Drains
from draincurve.pipeline.judging.changepoints.cusum import upper_cusum
from draincurve.pipeline.judging.changepoints.logit_predictive_probabilities import (
    logit_predictive_probabilities,
    without_overflow,
)
from draincurve.pipeline.judging.changepoints.predictive_probabilities import (
    effect_grid,
    long_tailed_prior,
    predictive_probabilities,
)
from draincurve.schemas.array_types import Booleans, Floats, Integers, read_only

DRAINS_TO_KNOW = 4
"""First drains of a unit, which raise no alarm, so that a unit that was always fast is not said to have turned."""

LARGEST_SCORE = 2.5
"""Scores are capped, so that one unusual rating alone is no change."""

ALLOWANCE = 0.3
"""Half of the rise in the score of a unit that runs at half its hours (0.55 to 0.7 in the invented fleets)."""


@dataclass(frozen=True, slots=True)
class MonitoredDrains:
    """Drains by unit and in order of time.

    drains : ratings with thresholds, linear predictor and unit sd at the posterior mode; starts : (U + 1,), slice
    bounds of units; restart : (n,), whether the sum restarts from zero (a unit's first drain, the first after a
    rebuild); monitored : (n,), whether a drain can raise an alarm; groups : levels that are merged.
    """

    drains: Drains
    link: Link
    starts: Integers
    restart: Booleans
    monitored: Booleans
    groups: LevelGroups

    @property
    def unit(self) -> Integers:
        """Index of each drain's unit, (n,)."""
        return np.repeat(np.arange(self.starts.size - 1), np.diff(self.starts))

    def scores(self, low: Integers, high: Integers) -> Floats:
        """Normal scores of ratings (R, n) by their mid-distribution function, given the unit's earlier drains."""
        grid = effect_grid(self.drains.unit_sd, self.link.scale, most_drains=int(np.diff(self.starts).max()))
        probabilities = (
            logit_predictive_probabilities if without_overflow(self.drains, grid) else predictive_probabilities
        )
        low, high = read_only(low), read_only(high)
        below, within = probabilities(self.drains, self.starts, low, high, grid, long_tailed_prior(grid))
        middle = np.clip(below + within / 2.0, 1e-12, 1.0 - 1e-12)
        return np.asarray(np.clip(ndtri(middle), -LARGEST_SCORE, LARGEST_SCORE))

    def sums(self, scores: Floats) -> Floats:
        """Cumulative sums of scores (R, n); zero where a drain is not monitored."""
        sums: Floats = upper_cusum(np.where(self.monitored, scores, -np.inf), self.restart, ALLOWANCE)
        return sums

    def simulated_ratings(self, logs: int, rng: np.random.Generator) -> tuple[Integers, Integers]:
        """Lower and upper ratings (logs, n) on the same drains: with new unit effects, and without any change."""
        effects = rng.standard_normal((logs, self.starts.size - 1))[:, self.unit]
        noise = self.link.quantile(rng.uniform(size=(logs, self.drains.fixed.size)))
        seen = self.drains.fixed + self.drains.unit_sd * effects + noise
        levels = np.searchsorted(self.drains.bounds[1:-1], seen)
        return self.groups.lowest[levels], self.groups.highest[levels]

    def of_units(self, units: Integers) -> MonitoredDrains:
        """The drains of some units only."""
        at = np.flatnonzero(np.isin(self.unit, units))
        low, high = read_only(self.drains.low[at]), read_only(self.drains.high[at])
        some = self.drains._replace(low=low, high=high, fixed=self.drains.fixed[at])
        starts = np.concatenate(([0], np.cumsum(np.diff(self.starts)[units]))).astype(np.int64)
        return MonitoredDrains(some, self.link, starts, self.restart[at], self.monitored[at], self.groups)


def monitored_drains(fit: ChannelFit) -> MonitoredDrains:
    """The drains of a fit, at its posterior mode."""
    likelihood = fit.fit.objective.likelihood
    drains = likelihood.drains(fit.fit.objective.layout.natural(fit.fit.maximum.point.working))
    starts = likelihood.ratings.starts
    index = np.arange(drains.fixed.size) - np.repeat(starts[:-1], np.diff(starts))
    rebuilt = (fit.drains.rows["service_kind"][fit.fit.order] == "rebuild").fill_null(False).to_numpy()
    after_rebuild = np.concatenate(([False], rebuilt[:-1]))
    assert fit.drains.groups is not None, "levels are merged before a fit"
    return MonitoredDrains(
        drains, likelihood.link, starts, (index == 0) | after_rebuild, index >= DRAINS_TO_KNOW, fit.drains.groups
    )
