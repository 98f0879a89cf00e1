"""The covariates of the rating model: which of them a channel's drains can identify, and their design columns.

A covariate is left out, and named with the reason, where the log lacks it, where it never changes, and where it is
collinear with those before it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import polars as pl
from scipy.linalg import solve_triangular

from draincurve.pipeline.describing.compact_design import MOST_LEVELS, CompactDesign, compact_design
from draincurve.pipeline.describing.design_terms import Term, age_term, contrast_term, number_term, pooled_term
from draincurve.pipeline.describing.oil_viscosity import VISCOSITY
from draincurve.schemas.array_types import Floats


class Covariate(NamedTuple):
    """column : of the rows with their conditions; label : in the report; source : the log's column behind it."""

    column: str
    label: str
    source: str
    term: Callable[[str, str, pl.DataFrame], Term]


COVARIATES = (
    Covariate("spring_type", "spring type", "spring_type", contrast_term),
    Covariate(VISCOSITY, "oil viscosity", VISCOSITY, number_term),
    Covariate("oil_grade", "oil grade", "oil_grade", contrast_term),
    Covariate("rider", "rider", "rider", pooled_term),
    Covariate("surface", "surface", "surface", contrast_term),
    Covariate("site", "site", "site", pooled_term),
    Covariate("rated_by", "rater", "rated_by", pooled_term),
    Covariate("settling", "settling time", "settle_hours", number_term),
    Covariate("freshness", "run-in of the spring", "spring_hours", number_term),
    Covariate("carry_over", "old oil left behind", "left_before", number_term),
    Covariate("part_age", "hours on the part", "part_life", age_term),
)
"""Of two that are collinear the first is kept. The age of the part always is: parts wear, and where the log does not
show by how much its prior says so. Oils enter by viscosity where the rows have that column, else by name (see
oil_term)."""

_SOURCES = {"left_before": "drained_ml and no drain_method"}
"""Words for a source that is not one column of the log."""

NEGLIGIBLE = 1e-3
"""Share of a column's norm outside the span of the columns before it, under which the column adds nothing."""

_BATCH_ROWS = 200_000


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A covariate that does not enter a channel's fit, and why, in words for the report."""

    channel: str
    term: str
    reason: str


class Design(NamedTuple):
    """Terms that the rows identify, in the order of their columns; covariates left out; columns (n, p)."""

    terms: tuple[Term, ...]
    left_out: tuple[LeftOut, ...]
    columns: Floats | CompactDesign


def identified_design(rows: pl.DataFrame, log_hours: Floats, *, channel: str, compact: bool) -> Design:
    """The design of a channel's rated drains.

    rows : the drains with their conditions, (n,); log_hours : (n,); compact : as in `describe_channel`.
    """
    if not rows.height:
        return Design((), (), np.empty((0, 0)))
    other_oil_term = "oil_grade" if VISCOSITY in rows.columns else VISCOSITY
    covariates = [covariate for covariate in COVARIATES if covariate.column != other_oil_term]
    reasons = {covariate.column: _why_uninformative(rows, covariate) for covariate in covariates}
    terms = {
        covariate.column: covariate.term(covariate.column, covariate.label, rows)
        for covariate in covariates
        if reasons[covariate.column] is None
    }
    design = _columns(log_hours, list(terms.values()), rows, compact)
    span = ColumnSpan(_cross_products(log_hours, design))
    span.extend((0, 1))  # the intercept and the log hours
    ends = dict(zip(terms, 2 + np.cumsum([term.width for term in terms.values()]), strict=True))
    kept: list[Term] = []
    left_out: list[LeftOut] = []
    for column, label, _, _ in covariates:
        reason = reasons[column]
        if reason is None:
            term = terms[column]
            if span.extend(range(ends[column] - term.width, ends[column])) or term.kind == "age":
                kept.append(term)
                continue
            reason = _confounded_with(rows, term, kept)
        left_out.append(LeftOut(channel, label, reason))
    if len(kept) < len(terms):
        design = _columns(log_hours, kept, rows, compact)
    return Design(tuple(kept), tuple(left_out), design)


class ColumnSpan:
    """The span of some columns, as the Cholesky factor of their normalised cross products.

    cross_products : (p, p), sums over the rows of the products of any two columns.
    """

    def __init__(self, cross_products: Floats) -> None:
        lengths = np.sqrt(np.diag(cross_products))
        self._nonzero = lengths > 0
        unit = np.where(self._nonzero, lengths, 1.0)
        self._correlations = cross_products / np.outer(unit, unit)
        self._basis: list[int] = []
        self._factor: Floats = np.empty((0, 0))

    def extend(self, columns: Sequence[int]) -> bool:
        """Add columns, by index, to the span; returns whether any of them was outside it."""
        added = False
        for column in columns:
            if not self._nonzero[column]:
                continue
            shared = self._correlations[self._basis, column]
            inside = solve_triangular(self._factor, shared, lower=True) if shared.size else shared
            outside = 1.0 - float(inside @ inside)
            if outside > NEGLIGIBLE**2:
                size = self._factor.shape[0]
                factor = np.zeros((size + 1, size + 1))
                factor[:size, :size] = self._factor
                factor[size, :size] = inside
                factor[size, size] = np.sqrt(outside)
                self._factor = factor
                self._basis.append(column)
                added = True
        return added


def _columns(log_hours: Floats, terms: list[Term], rows: pl.DataFrame, compact: bool) -> Floats | CompactDesign:
    """The terms' columns, (n, p)."""
    if compact and all(len(term.levels) < MOST_LEVELS for term in terms):
        return compact_design(log_hours, terms, rows=rows)
    return np.hstack([term.encode(rows) for term in terms]) if terms else np.empty((rows.height, 0))


def _cross_products(log_hours: Floats, design: Floats | CompactDesign) -> Floats:
    """Cross products of the intercept, the log hours and the design's columns, (p + 2, p + 2)."""
    size = design.shape[1] + 2
    total = np.zeros((size, size))
    for begin in range(0, log_hours.size, _BATCH_ROWS):
        batch = slice(begin, begin + _BATCH_ROWS)
        dense = design[batch].columns() if isinstance(design, CompactDesign) else design[batch]
        columns = np.column_stack((np.ones(dense.shape[0]), log_hours[batch], dense))
        total += columns.T @ columns
    return total


def _why_uninformative(rows: pl.DataFrame, covariate: Covariate) -> str | None:
    """Why a covariate is not informative here, or None where it is."""
    column, label, source, term = covariate
    if term is age_term:
        return None
    if rows[source].null_count() == rows.height:
        return f"the log does not give it for the drains rated for this (no {_SOURCES.get(source, source)})"
    if rows[column].drop_nulls().n_unique() < 2:
        return f"every drain has the same {label}, so its effect cannot be seen"
    return None


def _confounded_with(rows: pl.DataFrame, term: Term, kept: list[Term]) -> str:
    """Words for what a term is collinear with: the kept term whose levels determine its own, if there is one."""
    for other in kept:
        if other.levels and term.levels and _determines(rows, other.column, term.column):
            return (
                f"cannot be distinguished from {other.label}: each {other.label} in the log comes with one "
                f"{term.label} only; a swap would tell"
            )
    return "cannot be distinguished from the other columns together"


def _determines(rows: pl.DataFrame, column: str, other: str) -> bool:
    """Whether each level of a column occurs with one level of the other only."""
    pairs = rows.select(column, other).drop_nulls().unique()
    return pairs.height == pairs[column].n_unique()
