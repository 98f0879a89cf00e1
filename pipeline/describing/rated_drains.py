"""From accepted drains to the input of the rating model: ratings, log hours, design columns and units."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import polars as pl
from numpy.typing import NDArray

from draincurve.pipeline.describing.compact_design import CompactDesign
from draincurve.pipeline.describing.covariates import COVARIATES, LeftOut, identified_design
from draincurve.pipeline.describing.design_terms import Term, age_term, number_term, prior_mean, prior_scale
from draincurve.pipeline.describing.drain_selection import by_unit_batches
from draincurve.pipeline.describing.fill_conditions import CONDITIONS_OF, with_conditions
from draincurve.pipeline.describing.part_age import usual_fill
from draincurve.pipeline.describing.second_ratings import SecondRatings, second_ratings_of
from draincurve.pipeline.describing.unseen_levels import LevelGroups, level_groups
from draincurve.schemas.array_types import Floats, Indices, Integers
from draincurve.schemas.channels import channel_names, level_columns
from draincurve.schemas.settings import Priors

_COMPACT_COLUMNS = (
    "unit_key",
    "unit_id",
    "drained_on",
    "oil_hours",
    *level_columns(),
    "service_kind",
    *dict.fromkeys(name for one in COVARIATES for name in (one.column, one.source)),
)
"""Columns that rows with a compact design are made of."""

_NUMBER_COLUMNS = tuple(
    dict.fromkeys(
        name for one in COVARIATES if one.term in (number_term, age_term) for name in (one.column, one.source)
    )
)
"""Columns that such rows no longer need once the design is made."""


@dataclass(frozen=True)
class RatedDrains:
    """One channel's drains, ready to fit.

    rows : the drains with their conditions, (n,); low, high : ratings (n,); log_hours : (n,), log of the hours [h];
    design : (n, p); units : (n,) unit keys; terms : in the order of the design's columns; groups : levels
    that are merged, None before the fit; second : further ratings of these drains, None without any.
    """

    channel: str
    rows: pl.DataFrame
    low: Integers
    high: Integers
    log_hours: Floats
    design: Floats | CompactDesign
    units: NDArray[np.object_]
    terms: tuple[Term, ...]
    left_out: tuple[LeftOut, ...]
    groups: LevelGroups | None = None
    second: SecondRatings | None = None

    def with_second(self, ratings: pl.DataFrame | None) -> RatedDrains:
        """The same drains with the ratings of other raters; ratings : as the log has them, None for none."""
        return self if ratings is None else replace(self, second=second_ratings_of(self.rows, self.channel, ratings))

    def design_of(self, rows: Indices) -> Floats:
        """Design columns of some rows, (rows, p)."""
        return self.design[rows].columns() if isinstance(self.design, CompactDesign) else self.design[rows]

    def with_unseen_levels_merged(self, limit: int) -> RatedDrains:
        """The same drains with ratings widened to their group of levels; themselves where that is done already.

        limit : rating at which the channel is past fit.
        """
        if self.groups is not None or not self.low.size:
            return self
        groups = level_groups(self.low, self.high, limit=limit)
        if not groups.merged:
            return replace(self, groups=groups)
        return replace(self, low=groups.lowest[self.low - 1], high=groups.highest[self.high - 1], groups=groups)

    def spans(self) -> list[slice]:
        """Columns of each term in the design."""
        ends = np.cumsum([term.width for term in self.terms]).tolist()
        return [slice(end - term.width, end) for end, term in zip(ends, self.terms, strict=True)]

    @property
    def origin(self) -> Floats:
        """Values at which the columns are zero, the log hours first, (p + 1,), each divided by its scale."""
        return np.append(0.0, self._of_columns([term.centre / term.scale for term in self.terms]))

    def pooled(self) -> tuple[tuple[int, ...], ...]:
        """Design columns of each pooled term."""
        pairs = zip(self.terms, self.spans(), strict=True)
        return tuple(tuple(range(span.start, span.stop)) for term, span in pairs if term.kind == "pooled")

    def column_scales(self, priors: Priors) -> Floats:
        """Factor on each design column's prior sd, (p,)."""
        return self._of_columns([prior_scale(term, priors) for term in self.terms])

    def column_means(self, priors: Priors) -> Floats:
        """Each design column's prior mean, (p,), for the logit link."""
        return self._of_columns([prior_mean(term, priors) for term in self.terms])

    def _of_columns(self, of_terms: list[float]) -> Floats:
        return np.repeat(np.array(of_terms, dtype=float), [term.width for term in self.terms])


def describe_channel(drains: pl.DataFrame, channel: str, *, compact: bool = False) -> RatedDrains:
    """The drains of a channel with a rating and known hours. There may be none.

    drains : accepted drains of the whole log; compact : whether the design is held as indices of levels.
    """
    return _with_design(_rated(_with_hours(with_conditions(drains)), channel), channel, compact=compact)


def describe_channels(drains: pl.DataFrame, *, compact: bool) -> dict[str, RatedDrains]:
    """Every channel's rated drains, by name. With a compact design rows keep only the columns that are read later."""
    if not compact:
        conditions = _with_hours(with_conditions(drains))
        return {channel: _with_design(_rated(conditions, channel), channel) for channel in channel_names()}
    needed = dict.fromkeys((*_COMPACT_COLUMNS, *CONDITIONS_OF))
    drains = drains.select(name for name in needed if name in drains.columns)
    conditions = _with_hours(by_unit_batches(drains, partial(_compact_conditions, usual_hours=usual_fill(drains))))
    described: dict[str, RatedDrains] = {}
    for channel in channel_names():
        rows = _rated(conditions, channel)
        same = next(
            (drains_of_channel for drains_of_channel in described.values() if drains_of_channel.rows is rows), None
        )
        described[channel] = _with_design(rows, channel, compact=True) if same is None else _sharing(same, channel)
    return {
        channel: replace(drains_of_channel, rows=drains_of_channel.rows.drop(_NUMBER_COLUMNS, strict=False))
        for channel, drains_of_channel in described.items()
    }


def _compact_conditions(drains: pl.DataFrame, *, usual_hours: float) -> pl.DataFrame:
    conditions = with_conditions(drains, usual_hours=usual_hours)
    return conditions.select(name for name in _COMPACT_COLUMNS if name in conditions.columns)


def _with_hours(conditions: pl.DataFrame) -> pl.DataFrame:
    return _filtered(conditions, pl.col("oil_hours") > 0)


def _rated(conditions: pl.DataFrame, channel: str) -> pl.DataFrame:
    return _filtered(conditions, pl.col(f"{channel}_low").is_not_null())


def _filtered(rows: pl.DataFrame, when: pl.Expr) -> pl.DataFrame:
    """Rows where `when` is true. Where that is all of them, the frame itself and no copy."""
    true = rows.select(when.fill_null(False)).to_series()
    return rows if true.all() else rows.filter(true)


def _with_design(rows: pl.DataFrame, channel: str, *, compact: bool = False) -> RatedDrains:
    log_hours = np.log(rows["oil_hours"].to_numpy())
    terms, left_out, design = identified_design(rows, log_hours, channel=channel, compact=compact)
    return RatedDrains(
        channel,
        rows,
        _levels(rows, f"{channel}_low"),
        _levels(rows, f"{channel}_high"),
        log_hours if isinstance(design, np.ndarray) else design.numbers[:, 0],
        design,
        _shared_texts(rows["unit_key"]),
        terms,
        left_out,
    )


def _sharing(same: RatedDrains, channel: str) -> RatedDrains:
    """A channel that is rated at the same drains as another, with the same design, which is held once."""
    return replace(
        same,
        channel=channel,
        low=_levels(same.rows, f"{channel}_low"),
        high=_levels(same.rows, f"{channel}_high"),
        left_out=tuple(replace(item, channel=channel) for item in same.left_out),
    )


def _levels(rows: pl.DataFrame, column: str) -> Integers:
    return rows[column].cast(pl.Int64).to_numpy()


def _shared_texts(keys: pl.Series) -> NDArray[np.object_]:
    """A sorted column of texts, (n,), in which equal texts are one object."""
    runs = keys.rle_id().to_numpy()
    begins = np.flatnonzero(np.diff(runs, prepend=-1) > 0) if runs.size else np.empty(0, dtype=np.int64)
    shared: NDArray[np.object_] = keys[begins].to_numpy()[runs]
    return shared
