"""From accepted drains to what the rating model is given: ratings, log hours, design columns, units.

A covariate that the log lacks, that never changes, or that cannot be told apart from another is left out and named.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.describing.coding import Term, contrast_term, number_term, pooled_term, prior_scale
from pipeline.describing.column_span import ColumnSpan
from pipeline.describing.fill_conditions import with_conditions
from pipeline.describing.oil_viscosity import VISCOSITY
from pipeline.plan_result import LeftOut

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

CHANNELS = ("colour", "debris")

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


@dataclass(frozen=True)
class RatedDrains:
    """One channel's drains, ready to fit.

    rows : the drains' frame with their conditions, (n,); low, high : ratings (n,); log_hours : (n,) log of h;
    design : (n, p); units : (n,) unit keys; terms : how the design was made, in the order of its columns.
    """

    channel: str
    rows: pl.DataFrame
    low: Integers
    high: Integers
    log_hours: Floats
    design: Floats
    units: NDArray[np.object_]
    terms: tuple[Term, ...]
    left_out: tuple[LeftOut, ...]

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


def describe(drains: pl.DataFrame, channel: str) -> RatedDrains:
    """The rated drains of a channel with known hours; may hold none.

    drains : accepted drains of the whole log.
    """
    conditions = with_conditions(drains)
    rows = conditions.filter(pl.col(f"{channel}_low").is_not_null() & (pl.col("oil_hours") > 0))
    terms, left_out = _terms(rows, channel) if rows.height else ((), ())
    design = np.hstack([term.encode(rows) for term in terms]) if terms else np.empty((rows.height, 0))
    return RatedDrains(
        channel,
        rows,
        rows[f"{channel}_low"].cast(pl.Int64).to_numpy(),
        rows[f"{channel}_high"].cast(pl.Int64).to_numpy(),
        np.log(rows["oil_hours"].to_numpy()),
        design,
        rows["unit_key"].to_numpy(),
        terms,
        left_out,
    )


def _terms(rows: pl.DataFrame, channel: str) -> tuple[tuple[Term, ...], tuple[LeftOut, ...]]:
    """The terms that the rows can speak about, in order, and those left out."""
    kept: list[Term] = []
    left_out: list[LeftOut] = []
    known = np.column_stack((np.ones(rows.height), np.log(rows["oil_hours"].to_numpy())))
    span = ColumnSpan(rows.height)
    span.extend(known)
    by_other = "oil_grade" if VISCOSITY in rows.columns else VISCOSITY
    for column, label, source, make in _TERMS:
        if column == by_other:
            continue
        reason = _why_silent(rows, column, source, label)
        if reason is None:
            term = make(column, label, rows)
            if span.extend(term.encode(rows)):
                kept.append(term)
                continue
            reason = _confounded_with(rows, term, kept)
        left_out.append(LeftOut(channel, label, reason))
    return tuple(kept), tuple(left_out)


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
