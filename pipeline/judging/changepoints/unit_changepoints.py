"""Units that turned: ordinary ones that changed.

They are detected by a cumulative sum of how much dirtier each drain is than expected from the unit's earlier drains.
Each rating becomes the normal score of its mid-distribution function, P(under it) + P(it) / 2, in the predictive
distribution given the unit's earlier drains (fleet parameters at the posterior mode, the unit's effect integrated
over its posterior given those drains). The threshold is simulated, for one false alarm in 100 drains or rarer. A unit
has turned from the drain at which its sum passes the threshold until the sum is back at zero; a rebuild restarts the
sum. In time a unit that stays as it has become is expected to be so, and is then a fast unit rather than one that
turned.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from draincurve.pipeline.fitting import ChannelFit
from draincurve.pipeline.judging.changepoints.alarm_threshold import AlarmThreshold, alarm_threshold
from draincurve.pipeline.judging.changepoints.cusum import running_tops
from draincurve.pipeline.judging.changepoints.monitored_drains import MonitoredDrains, monitored_drains
from draincurve.schemas.array_types import Booleans, Dates, Floats, Integers
from draincurve.schemas.channels import CHANNELS

DRAINS_PER_FALSE_ALARM = 100 * len(CHANNELS)
"""In one channel: over all that is one in 100 drains or rarer, whether they go together or not."""


@dataclass(frozen=True, slots=True)
class UnitChangepoints:
    """Changepoints of one channel's units; drains by unit and in order of time.

    unit_keys : U labels, in a large fleet those of the units that are drawn; starts : (U + 1,), slice bounds of these
    units; drained_on : (n,) dates; scores, sums : (n,), in standard deviations of a normal score; threshold : None
    where no unit has enough drains.
    verdicts : one row a unit: unit_key, turned (null: too few drains, or none since a rebuild), turned_since (date of
    the drain at which the rise began) and signalled_on (date at which the sum passed the threshold), both null unless
    turned, share_of_threshold (top of the rise that lasts at the last drain, over the threshold).
    """

    channel: str
    unit_keys: tuple[str, ...]
    starts: Integers
    drained_on: Dates
    scores: Floats
    sums: Floats
    threshold: AlarmThreshold | None
    verdicts: pl.DataFrame

    def path(self, unit_key: str) -> tuple[Dates, Floats]:
        """Dates and sums of one unit; raises ValueError for a unit without rated drains."""
        at = self.unit_keys.index(unit_key)
        span = slice(self.starts[at], self.starts[at + 1])
        return self.drained_on[span], self.sums[span]


def find_changepoints(
    fit: ChannelFit, rng: np.random.Generator, *, kept_units: int | None = None
) -> UnitChangepoints:
    """Which units of a channel turned.

    rng : seeded generator of the simulated logs; kept_units : most units whose sums are kept to be drawn, of those
    that turned and of the others each; None for all.
    """
    watched = monitored_drains(fit)
    scores = watched.scores(watched.drains.low[None, :], watched.drains.high[None, :])
    sums = watched.sums(scores)[0]
    threshold = alarm_threshold(watched, DRAINS_PER_FALSE_ALARM, rng=rng)
    rows = fit.drains.rows.select("drained_on", "service_kind")[fit.fit.order]
    drained_on = rows["drained_on"].to_numpy().copy()
    rebuilt = (rows["service_kind"] == "rebuild").fill_null(False).to_numpy()
    verdicts = _verdicts(
        fit.unit_keys, watched, sums=sums, drained_on=drained_on, rebuilt=rebuilt, threshold=threshold
    )
    found = UnitChangepoints(
        fit.drains.channel, fit.unit_keys, watched.starts, drained_on, scores[0], sums, threshold, verdicts
    )
    if kept_units is not None:
        found = _with_few_paths(found, kept_units)
    for array in (found.scores, found.sums, found.drained_on):
        array.setflags(write=False)
    return found


def _with_few_paths(found: UnitChangepoints, most: int) -> UnitChangepoints:
    """The result with the drains of `most` units that turned and as many others; verdicts stay those of all units."""
    turned = found.verdicts.filter("turned").sort("share_of_threshold", descending=True)["unit_key"].head(most)
    keys = pl.Series(found.unit_keys)
    others = np.linspace(0, len(found.unit_keys) - 1, most).astype(np.int64)
    kept = np.union1d(others, np.flatnonzero(keys.is_in(turned.implode()).to_numpy()))
    rows = np.concatenate([np.arange(found.starts[index], found.starts[index + 1]) for index in kept])
    return replace(
        found,
        unit_keys=tuple(found.unit_keys[index] for index in kept),
        starts=np.concatenate(([0], np.cumsum(np.diff(found.starts)[kept]))).astype(np.int64),
        drained_on=found.drained_on[rows],
        scores=found.scores[rows],
        sums=found.sums[rows],
    )


def turned_column(by_channel: Mapping[str, UnitChangepoints], unit_keys: Sequence[str]) -> pl.DataFrame:
    """One row a unit: unit_key, turned (null where too few drains to say), turned_since (date), channel.

    A unit has turned if one channel says so; the channel furthest over its threshold gives date and name.
    """
    empty = {
        "unit_key": pl.String,
        "turned": pl.Boolean,
        "turned_since": pl.Date,
        "share_of_threshold": pl.Float64,
        "channel": pl.String,
    }
    said = [
        found.verdicts.select(
            "unit_key", "turned", "turned_since", "share_of_threshold", pl.lit(channel).alias("channel")
        )
        for channel, found in by_channel.items()
    ]
    judged = (
        pl.concat([pl.DataFrame(schema=empty), *said])
        .drop_nulls("turned")
        .sort("turned", "share_of_threshold", "channel", descending=[True, True, False], maintain_order=True)
        .unique("unit_key", keep="first", maintain_order=True)
        .select("unit_key", "turned", "turned_since", pl.when("turned").then("channel").alias("channel"))
    )
    wanted = pl.DataFrame({"unit_key": list(unit_keys)}, schema={"unit_key": pl.String})
    return wanted.join(judged, on="unit_key", how="left", maintain_order="left")


def _verdicts(
    unit_keys: tuple[str, ...],
    watched: MonitoredDrains,
    *,
    sums: Floats,
    drained_on: Dates,
    rebuilt: Booleans,
    threshold: AlarmThreshold | None,
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
    judged = watched.monitored[last] & ~rebuilt[last]
    turned = over[last]
    frame = pl.DataFrame(
        {
            "unit_key": unit_keys,
            "turned": turned,
            "turned_since": drained_on[np.minimum(begun[last], last)],
            "signalled_on": drained_on[signalled[last]],
            "share_of_threshold": tops[last] / value,
        },
        schema_overrides={"unit_key": pl.String, "turned_since": pl.Date, "signalled_on": pl.Date},
    )
    return frame.with_columns(
        pl.when(pl.Series(judged)).then("turned").alias("turned"),
        pl.when(pl.Series(judged & turned)).then("turned_since").alias("turned_since"),
        pl.when(pl.Series(judged & turned)).then("signalled_on").alias("signalled_on"),
    )
