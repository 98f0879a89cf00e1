"""Units that turned: ordinary ones that changed.

They are detected by one cumulative sum over all channels of the log likelihood ratio of a changed against an
unchanged unit (`change_sums`), each drain predicted from the unit's earlier drains with the fleet's parameters at the
posterior mode. The threshold is simulated, for one false alarm in 100 drains or rarer. A unit has turned from the
drain at which its sum passes the threshold until the sum is back at zero; a rebuild restarts the sum.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from draincurve.pipeline.fitting import OilFit
from draincurve.pipeline.judging.changepoints.alarm_threshold import AlarmThreshold, alarm_threshold
from draincurve.pipeline.judging.changepoints.cusum import running_tops
from draincurve.pipeline.judging.changepoints.monitored_drains import MonitoredDrains, monitored_drains
from draincurve.schemas.array_types import Dates, Floats, Integers
from draincurve.schemas.settings import Priors

DRAINS_PER_FALSE_ALARM = 100


@dataclass(frozen=True, slots=True)
class UnitChangepoints:
    """Changepoints of a fleet's units; drains by unit and in order of time.

    channels : that are watched; unit_keys : U labels, in a large fleet those of the units that are drawn; starts :
    (U + 1,), slice bounds of these units; drained_on : (n,) dates; sums : (n,), log likelihood ratios summed up;
    threshold : None where no unit has enough drains.
    verdicts : one row a unit: unit_key, turned (null: too few drains, or none since a rebuild), turned_since (date of
    the drain at which the rise began), signalled_on (date at which the sum passed the threshold) and channels (list
    of those in which the change shows), all null unless turned, share_of_threshold (top of the rise that lasts at the
    last drain, over the threshold).
    """

    channels: tuple[str, ...]
    unit_keys: tuple[str, ...]
    starts: Integers
    drained_on: Dates
    sums: Floats
    threshold: AlarmThreshold | None
    verdicts: pl.DataFrame

    def path(self, unit_key: str) -> tuple[Dates, Floats]:
        """Dates and sums of one unit; raises ValueError for a unit without rated drains."""
        unit = self.unit_keys.index(unit_key)
        span = slice(self.starts[unit], self.starts[unit + 1])
        return self.drained_on[span], self.sums[span]


def find_changepoints(
    oil: OilFit, priors: Priors, *, rng: np.random.Generator, kept_units: int | None = None
) -> UnitChangepoints | None:
    """Which units turned; None where no channel has a fit.

    rng : seeded generator of the simulated logs; kept_units : most units whose sums are kept to be drawn, of those
    that turned and of the others each; None for all.
    """
    if not oil.fits:
        return None
    watched = monitored_drains(oil, priors, rng=rng)
    sums, patterns = (part[0] for part in watched.sums(watched.low[:, None], watched.high[:, None]))
    threshold = alarm_threshold(watched, DRAINS_PER_FALSE_ALARM, rng=rng)
    verdicts = _verdicts(watched, sums=sums, patterns=patterns, threshold=threshold)
    changepoints = UnitChangepoints(
        watched.channels, watched.unit_keys, watched.starts, watched.drained_on, sums, threshold, verdicts
    )
    if kept_units is not None:
        changepoints = _with_few_paths(changepoints, kept_units)
    for array in (changepoints.sums, changepoints.drained_on):
        array.setflags(write=False)
    return changepoints


def _with_few_paths(changepoints: UnitChangepoints, most: int) -> UnitChangepoints:
    """The result with the drains of `most` units that turned and as many others; verdicts stay those of all units."""
    turned = changepoints.verdicts.filter("turned").sort("share_of_threshold", descending=True)["unit_key"].head(most)
    keys = pl.Series(changepoints.unit_keys)
    others = np.linspace(0, len(changepoints.unit_keys) - 1, most).astype(np.int64)
    kept = np.union1d(others, np.flatnonzero(keys.is_in(turned.implode()).to_numpy()))
    rows = np.concatenate([np.arange(changepoints.starts[index], changepoints.starts[index + 1]) for index in kept])
    return replace(
        changepoints,
        unit_keys=tuple(changepoints.unit_keys[index] for index in kept),
        starts=np.concatenate(([0], np.cumsum(np.diff(changepoints.starts)[kept]))).astype(np.int64),
        drained_on=changepoints.drained_on[rows],
        sums=changepoints.sums[rows],
    )


def turned_column(changepoints: UnitChangepoints | None, unit_keys: Sequence[str]) -> pl.DataFrame:
    """One row a unit: unit_key, turned (null where too few drains to say)."""
    wanted = pl.DataFrame({"unit_key": list(unit_keys)}, schema={"unit_key": pl.String})
    if changepoints is None:
        return wanted.with_columns(pl.lit(None, dtype=pl.Boolean).alias("turned"))
    verdicts = changepoints.verdicts.select("unit_key", "turned")
    return wanted.join(verdicts, on="unit_key", how="left", maintain_order="left")


def _verdicts(
    watched: MonitoredDrains, *, sums: Floats, patterns: Integers, threshold: AlarmThreshold | None
) -> pl.DataFrame:
    """One row a unit, as in `UnitChangepoints.verdicts`."""
    value = np.inf if threshold is None else threshold.value
    positions = np.arange(sums.size)
    begun = np.maximum.accumulate(np.where(sums == 0.0, positions + 1, np.where(watched.restart, positions, 0)))
    tops = running_tops(sums[None, :], watched.restart)[0]
    over = tops > value
    passed = over & (watched.restart | ~np.concatenate(([False], over[:-1])))
    signalled = np.maximum.accumulate(np.where(passed, positions, 0))
    last = watched.starts[1:] - 1
    judged = pl.Series(watched.monitored[last] & ~watched.rebuilt[last])
    shown = [
        [channel for channel, part in zip(watched.channels, pattern, strict=True) if part]
        for pattern in watched.model.patterns
    ]
    frame = pl.DataFrame(
        {
            "unit_key": watched.unit_keys,
            "turned": over[last],
            "turned_since": watched.drained_on[np.minimum(begun[last], last)],
            "signalled_on": watched.drained_on[signalled[last]],
            "channels": [shown[pattern] for pattern in patterns[last]],
            "share_of_threshold": tops[last] / value,
        },
        schema_overrides={
            "unit_key": pl.String,
            "turned_since": pl.Date,
            "signalled_on": pl.Date,
            "channels": pl.List(pl.String),
        },
    )
    turned = judged & frame["turned"]
    return frame.with_columns(
        pl.when(judged).then("turned").alias("turned"),
        *(pl.when(turned).then(name).alias(name) for name in ("turned_since", "signalled_on", "channels")),
    )
