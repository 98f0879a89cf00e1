"""The drains of a fleet for changepoint detection: all channels of the oil, their model, and their sums."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from draincurve.pipeline.describing import LevelGroups
from draincurve.pipeline.fitting import ChannelFit, Link, OilFit, chained_association, paired_drains, second_uniform
from draincurve.pipeline.judging.changepoints.change_sums import WatchedModel, change_sums
from draincurve.pipeline.judging.changepoints.effect_grid import effect_grid, long_tailed_prior
from draincurve.schemas.array_types import Booleans, Dates, Floats, Integers
from draincurve.schemas.channels import RATING_LEVELS
from draincurve.schemas.settings import Priors

DRAINS_TO_KNOW = 4
"""First ratings of a unit on a channel, which raise no alarm, so that one that was always fast has not turned."""

HOURS_AFTER = 0.6
"""The change to detect: oil lasts this multiple of its former hours. Units at half the hours were found as soon with
it as with 0.5, and fewer were missed (docs/decisions/15-one-sum-over-all-channels.md)."""


@dataclass(frozen=True, slots=True)
class MonitoredDrains:
    """Drains by unit and in order of time, each with its rating on C channels or on some of them.

    low, high : (C, n), the whole scale where there is no rating; model : at the posterior mode; correlations :
    (C - 1,), of a unit's effect on each channel and that on the one before it; starts : (U + 1,), slice bounds of
    units; restart : (n,), whether the sum restarts from zero (a unit's first drain, the first after a rebuild);
    counted : (C, n), whether a rating enters the sum, or would; drained_on, rebuilt : (n,), day, and whether it was a
    rebuild; groups : of each channel, levels that are merged.
    """

    channels: tuple[str, ...]
    unit_keys: tuple[str, ...]
    low: Integers
    high: Integers
    model: WatchedModel
    link: Link
    correlations: Floats
    starts: Integers
    restart: Booleans
    counted: Booleans
    drained_on: Dates
    rebuilt: Booleans
    groups: tuple[LevelGroups, ...]

    @property
    def unit(self) -> Integers:
        """Index of each drain's unit, (n,)."""
        return np.repeat(np.arange(self.starts.size - 1), np.diff(self.starts))

    @property
    def monitored(self) -> Booleans:
        """Whether a unit is known well enough at a drain to raise an alarm, (n,)."""
        return np.asarray(self.counted.any(axis=0))

    def sums(self, low: Integers, high: Integers) -> tuple[Floats, Integers]:
        """Cumulative sums of ratings (C, R, n), and the likeliest pattern of the change, each (R, n)."""
        most = int(np.diff(self.starts).max())
        grid = effect_grid(float(self.model.unit_sds.max()), self.link.scale, most_drains=most)
        sums_and_patterns: tuple[Floats, Integers] = change_sums(
            self.model, self.starts, self.restart, self.counted, low, high, grid, long_tailed_prior(grid)
        )
        return sums_and_patterns

    def simulated_ratings(self, logs: int, rng: np.random.Generator) -> tuple[Integers, Integers]:
        """Lower and upper ratings (C, logs, n) on the same drains: with new unit effects, and without any change."""
        low, high = (np.repeat(side[:, None], logs, axis=1) for side in (self.low, self.high))
        model, units, drains = self.model, self.starts.size - 1, self.low.shape[1]
        effects, uniform = rng.standard_normal((logs, units)), rng.uniform(size=(logs, drains))
        for c, groups in enumerate(self.groups):
            if c:
                rest = np.sqrt(1.0 - self.correlations[c - 1] ** 2)
                effects = self.correlations[c - 1] * effects + rest * rng.standard_normal((logs, units))
                uniform = second_uniform(uniform, rng.uniform(size=(logs, drains)), model.odds_ratios[c - 1])
            seen = model.fixed[c] + model.unit_sds[c] * effects[:, self.unit] + self.link.quantile(uniform)
            levels = np.searchsorted(model.bounds[c, 1:-1], seen)
            rated = self.high[c] - self.low[c] < RATING_LEVELS - 1
            low[c][:, rated] = groups.lowest[levels[:, rated]]
            high[c][:, rated] = groups.highest[levels[:, rated]]
        return low, high

    def of_units(self, units: Integers) -> MonitoredDrains:
        """The drains of some units only."""
        drains = np.flatnonzero(np.isin(self.unit, units))
        starts = np.concatenate(([0], np.cumsum(np.diff(self.starts)[units]))).astype(np.int64)
        return replace(
            self,
            unit_keys=tuple(self.unit_keys[unit] for unit in units),
            low=np.take(self.low, drains, axis=1),
            high=np.take(self.high, drains, axis=1),
            model=self.model._replace(fixed=np.take(self.model.fixed, drains, axis=1)),
            starts=starts,
            restart=self.restart[drains],
            counted=np.take(self.counted, drains, axis=1),
            drained_on=self.drained_on[drains],
            rebuilt=self.rebuilt[drains],
        )


def monitored_drains(oil: OilFit, priors: Priors, *, rng: np.random.Generator) -> MonitoredDrains:
    """The drains of an oil's fits, at the posterior mode of each.

    rng : draws the association where three channels and more leave it to be found.
    """
    fits = tuple(oil.fits.values())
    correlations, log_odds_ratios = chained_association(oil.fits, oil.joint, priors, rng=rng)
    paired = paired_drains(*fits)
    seen, starts = paired.rows >= 0, paired.starts
    parts = [_at_mode(fit, rows) for fit, rows in zip(fits, paired.rows, strict=True)]
    low, high, fixed, bounds, unit_sds = (np.array(part) for part in zip(*parts, strict=True))
    drained_on, rebuilt = _days(fits, paired.rows)
    first = np.zeros(rebuilt.size, dtype=bool)
    first[starts[:-1]] = True
    before: Integers = np.cumsum(seen, axis=1) - seen
    earlier: Integers = before - np.repeat(before[:, starts[:-1]], np.diff(starts), axis=1)
    slopes = np.array([np.median(fit.hours_slope) for fit in fits])
    link = fits[0].fit.objective.likelihood.link
    return MonitoredDrains(
        channels=tuple(oil.fits),
        unit_keys=paired.unit_keys,
        low=low,
        high=high,
        model=WatchedModel(
            link.code,
            bounds,
            fixed,
            unit_sds,
            -slopes * np.log(HOURS_AFTER),
            np.exp(log_odds_ratios),
            _patterns(len(fits)),
        ),
        link=link,
        correlations=correlations,
        starts=starts,
        restart=first | np.concatenate(([False], rebuilt[:-1])),
        counted=earlier >= DRAINS_TO_KNOW,
        drained_on=drained_on,
        rebuilt=rebuilt,
        groups=tuple(_groups(fit) for fit in fits),
    )


def _at_mode(fit: ChannelFit, rows: Integers) -> tuple[Integers, Integers, Floats, Floats, float]:
    """Of drains (n,) with their rows in a fit, -1 where there is none: low, high, fixed, with bounds and unit sd."""
    likelihood = fit.fit.objective.likelihood
    drains = likelihood.drains(fit.fit.objective.layout.natural(fit.fit.maximum.point.working))
    seen = rows >= 0
    low, high = np.where(seen, drains.low[rows], 1), np.where(seen, drains.high[rows], RATING_LEVELS)
    return low, high, np.where(seen, drains.fixed[rows], 0.0), drains.bounds, drains.unit_sd


def _days(fits: Sequence[ChannelFit], rows: Integers) -> tuple[Dates, Booleans]:
    """Day of each drain, and whether it was a rebuild, (n,) each; from any channel that has a rating of it."""
    drained_on, rebuilt = np.empty(rows.shape[1], dtype="datetime64[D]"), np.zeros(rows.shape[1], dtype=bool)
    for fit, fit_rows in zip(fits, rows, strict=True):
        seen = fit_rows >= 0
        frame = fit.drains.rows.select(
            "drained_on", pl.col("service_kind").eq("rebuild").fill_null(False).alias("rebuilt")
        )
        frame = frame[fit.fit.order][fit_rows[seen]]
        drained_on[seen], rebuilt[seen] = frame["drained_on"].to_numpy(), frame["rebuilt"].to_numpy()
    return drained_on, rebuilt


def _patterns(channels: int) -> Booleans:
    """Where a change may show, (P, channels): everywhere, or on one channel."""
    everywhere, alone = np.ones((1, channels), dtype=bool), np.eye(channels, dtype=bool)
    return everywhere if channels == 1 else np.concatenate((everywhere, alone))


def _groups(fit: ChannelFit) -> LevelGroups:
    assert fit.drains.groups is not None, "levels are merged before a fit"
    return fit.drains.groups
