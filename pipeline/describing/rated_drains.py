"""From accepted drains to what the rating model is given: ratings, log hours, design columns, units.

A covariate that the log lacks, that never changes, or that cannot be told apart from another is left out and named.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from draincurve.pipeline.describing.column_span import ColumnSpan
from draincurve.pipeline.describing.compact_design import MOST_LEVELS, CompactDesign, compact_design
from draincurve.pipeline.describing.design_terms import Term, contrast_term, number_term, pooled_term, prior_scale
from draincurve.pipeline.describing.drain_selection import by_unit_batches
from draincurve.pipeline.describing.fill_conditions import CONDITIONS_OF, with_conditions
from draincurve.pipeline.describing.oil_viscosity import VISCOSITY
from draincurve.schemas.array_types import Floats, Indices, Integers
from draincurve.schemas.channels import channel_names, level_columns

_TERMS: tuple[tuple[str, str, str, Callable[[str, str, pl.DataFrame], Term]], ...] = (
    ("spring_type", "spring type", "spring_type", contrast_term),
    (VISCOSITY, "oil viscosity", VISCOSITY, number_term),
    ("oil_grade", "oil grade", "oil_grade", contrast_term),
    ("rider", "rider", "rider", pooled_term),
    ("surface", "surface", "surface", contrast_term),
    ("site", "site", "site", pooled_term),
    ("rated_by", "rater", "rated_by", pooled_term),
    ("settling", "settling time", "settle_hours", number_term),
    ("freshness", "run-in of the spring", "spring_hours", number_term),
    ("carry_over", "old oil left behind", "left_before", number_term),
)
"""Column, words, the log's column behind it, coding; the first of two that cannot be told apart is kept.

Oils enter by viscosity where the drains have that column, else by name (see oil_term)."""

_SOURCES = {"left_before": "drained_ml and no drain_method"}
"""Words for what is not one column of the log."""

COLUMNS_OF_LARGE = (
    "unit_key",
    "unit_id",
    "drained_on",
    "oil_hours",
    *level_columns(),
    "service_kind",
    *dict.fromkeys(name for column, _, source, _ in _TERMS for name in (column, source)),
)
"""Columns that a large log's rated drains are made of."""

NUMBERS_OF_DESIGN = tuple(
    dict.fromkeys(name for column, _, source, make in _TERMS if make is number_term for name in (column, source))
)
"""Columns that a large log's rows need no more once its design is made."""

_ROWS_A_PIECE = 200_000


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A covariate that does not enter a channel's fit, and why, in words for the report."""

    channel: str
    term: str
    reason: str


@dataclass(frozen=True)
class RatedDrains:
    """One channel's drains, ready to fit.

    rows : the drains' frame with their conditions, (n,), of a large log its COLUMNS_OF_LARGE; low, high : ratings
    (n,); log_hours : (n,) log of h; design : (n, p), coded in a large log; units : (n,) unit keys; terms : how the
    design was made, in the order of its columns.
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

    def design_of(self, rows: Indices) -> Floats:
        """Design columns of some rows, (rows, p)."""
        return self.design[rows].columns() if isinstance(self.design, CompactDesign) else self.design[rows]

    def spans(self) -> list[slice]:
        """Columns of each term in the design."""
        ends = np.cumsum([term.width for term in self.terms]).tolist()
        return [slice(end - term.width, end) for end, term in zip(ends, self.terms, strict=True)]

    def pooled(self) -> tuple[tuple[int, ...], ...]:
        """Design columns of each pooled term."""
        pairs = zip(self.terms, self.spans(), strict=True)
        return tuple(tuple(range(span.start, span.stop)) for term, span in pairs if term.kind == "pooled")

    def column_scales(self) -> Floats:
        """Factor on each design column's prior sd, (p,)."""
        return np.concatenate([np.full(term.width, prior_scale(term)) for term in self.terms] or [np.empty(0)])


def describe_channel(drains: pl.DataFrame, channel: str, *, compact: bool = False) -> RatedDrains:
    """The rated drains of a channel with known hours; may hold none.

    drains : accepted drains of the whole log; compact : whether the design is held as indices of levels.
    """
    return rated_drains(_rated_rows(_known_hours(with_conditions(drains)), channel), channel, compact=compact)


def describe_channels(drains: pl.DataFrame, *, compact: bool = False) -> dict[str, RatedDrains]:
    """The same of every channel; a compact design's rows keep only the columns that the fits' results need."""
    if not compact:
        conditions = _known_hours(with_conditions(drains))
        return {channel: rated_drains(_rated_rows(conditions, channel), channel) for channel in channel_names()}
    asked = dict.fromkeys((*COLUMNS_OF_LARGE, *CONDITIONS_OF))
    drains = drains.select(name for name in asked if name in drains.columns)
    conditions = _known_hours(by_unit_batches(drains, _conditions_of_large))
    found: dict[str, RatedDrains] = {}
    for channel in channel_names():
        rows = _rated_rows(conditions, channel)
        twin = next((one for one in found.values() if one.rows is rows), None)
        found[channel] = rated_drains(rows, channel, compact=True) if twin is None else _alike(twin, channel)
    return {
        channel: replace(one, rows=one.rows.drop(NUMBERS_OF_DESIGN, strict=False)) for channel, one in found.items()
    }


def _conditions_of_large(drains: pl.DataFrame) -> pl.DataFrame:
    conditions = with_conditions(drains)
    return conditions.select(name for name in COLUMNS_OF_LARGE if name in conditions.columns)


def _known_hours(conditions: pl.DataFrame) -> pl.DataFrame:
    return _only(conditions, pl.col("oil_hours") > 0)


def _only(rows: pl.DataFrame, when: pl.Expr) -> pl.DataFrame:
    """Rows where `when` is true; the frame itself, and no copy of it, where it is true of all."""
    true = rows.select(when.fill_null(False)).to_series()
    return rows if true.all() else rows.filter(true)


def rated_drains(rows: pl.DataFrame, channel: str, *, compact: bool = False) -> RatedDrains:
    """A channel's rated drains from their rows, which have their conditions."""
    units = _shared_texts(rows["unit_key"])
    log_hours = np.log(rows["oil_hours"].to_numpy())
    terms, left_out, design = _terms(rows, log_hours, channel, compact)
    return RatedDrains(
        channel,
        rows,
        rows[f"{channel}_low"].cast(pl.Int64).to_numpy(),
        rows[f"{channel}_high"].cast(pl.Int64).to_numpy(),
        log_hours if isinstance(design, np.ndarray) else design.numbers[:, 0],
        design,
        units,
        terms,
        left_out,
    )


def _rated_rows(conditions: pl.DataFrame, channel: str) -> pl.DataFrame:
    return _only(conditions, pl.col(f"{channel}_low").is_not_null())


def _alike(twin: RatedDrains, channel: str) -> RatedDrains:
    """A channel that is rated at the same drains as another: with the same design, held once."""
    return replace(
        twin,
        channel=channel,
        low=twin.rows[f"{channel}_low"].cast(pl.Int64).to_numpy(),
        high=twin.rows[f"{channel}_high"].cast(pl.Int64).to_numpy(),
        left_out=tuple(replace(item, channel=channel) for item in twin.left_out),
    )


def _shared_texts(keys: pl.Series) -> NDArray[np.object_]:
    """Texts of a column sorted by them, each text held once."""
    runs = keys.rle_id().to_numpy()
    begins = np.flatnonzero(np.diff(runs, prepend=-1) > 0) if runs.size else np.empty(0, dtype=np.int64)
    shared: NDArray[np.object_] = keys[begins].to_numpy()[runs]
    return shared


def _terms(
    rows: pl.DataFrame, log_hours: Floats, channel: str, coded: bool
) -> tuple[tuple[Term, ...], tuple[LeftOut, ...], Floats | CompactDesign]:
    """The terms that the rows can speak about, in order, those left out, and the design of the former."""
    if not rows.height:
        return (), (), np.empty((0, 0))
    by_other = "oil_grade" if VISCOSITY in rows.columns else VISCOSITY
    asked = [term for term in _TERMS if term[0] != by_other]
    silent = {column: _why_silent(rows, column, source, label) for column, label, source, _ in asked}
    made = {column: make(column, label, rows) for column, label, _, make in asked if silent[column] is None}
    design = _design(log_hours, list(made.values()), rows, coded)
    span = ColumnSpan(_products(log_hours, design))
    span.extend((0, 1))
    ends = dict(zip(made, 2 + np.cumsum([term.width for term in made.values()]), strict=True))
    kept: list[Term] = []
    left_out: list[LeftOut] = []
    for column, label, _, _ in asked:
        reason = silent[column]
        if reason is None:
            if span.extend(range(ends[column] - made[column].width, ends[column])):
                kept.append(made[column])
                continue
            reason = _confounded_with(rows, made[column], kept)
        left_out.append(LeftOut(channel, label, reason))
    if len(kept) < len(made):
        design = _design(log_hours, kept, rows, coded)
    return tuple(kept), tuple(left_out), design


def _design(log_hours: Floats, terms: list[Term], rows: pl.DataFrame, coded: bool) -> Floats | CompactDesign:
    """The terms' columns, (n, p), coded where that is asked for and the levels are few enough."""
    if coded and all(len(term.levels) < MOST_LEVELS for term in terms):
        return compact_design(log_hours, terms, rows)
    return np.hstack([term.encode(rows) for term in terms]) if terms else np.empty((rows.height, 0))


def _products(log_hours: Floats, design: Floats | CompactDesign) -> Floats:
    """Sums over the rows of the products of all columns: ones, log hours, and the design's, (p + 2, p + 2)."""
    size = design.shape[1] + 2
    found = np.zeros((size, size))
    for begin in range(0, log_hours.size, _ROWS_A_PIECE):
        part = slice(begin, begin + _ROWS_A_PIECE)
        own = design[part].columns() if isinstance(design, CompactDesign) else design[part]
        columns = np.column_stack((np.ones(own.shape[0]), log_hours[part], own))
        found += columns.T @ columns
    return found


def _why_silent(rows: pl.DataFrame, column: str, source: str, label: str) -> str | None:
    """Why a column says nothing, or None where it says something."""
    if rows[source].null_count() == rows.height:
        return f"the log gives no {_SOURCES.get(source, source)} for the drains rated for this"
    if rows[column].drop_nulls().n_unique() < 2:
        return f"every drain has the same {label}, so its effect cannot be seen"
    return None


def _confounded_with(rows: pl.DataFrame, term: Term, kept: list[Term]) -> str:
    """Words for what a term cannot be told apart from: the kept term whose levels fix its own, if one does."""
    for other in kept:
        if other.levels and term.levels and _fixes(rows, other.column, term.column):
            return (
                f"cannot be told apart from {other.label}: each {other.label} in the log comes with one "
                f"{term.label} only; a swap would tell"
            )
    return "cannot be told apart from the other columns together"


def _fixes(rows: pl.DataFrame, column: str, other: str) -> bool:
    """Whether each level of a column comes with one level of the other only."""
    pairs = rows.select(column, other).drop_nulls().unique()
    return pairs.height == pairs[column].n_unique()
