"""The marginal likelihood of a log's ratings as a function of natural parameters: value, gradient, Hessian.

Natural parameters, in this order: thresholds (K - 1), one coefficient for each design column (p, the log hours
among them), spread between units (1, absent without units).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import roots_hermite

from draincurve.pipeline.describing.compact_design import CompactDesign
from draincurve.pipeline.fitting.links import Link
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, Groups, Rule, value_and_gradient
from draincurve.pipeline.fitting.quadrature.draw_likelihoods import log_likelihoods
from draincurve.pipeline.fitting.quadrature.louis_identity import louis_hessian
from draincurve.pipeline.fitting.quadrature.value_gradient_hessian import value_gradient_hessian
from draincurve.schemas.array_types import Floats, Integers

BLOCKS = 64
"""Units are summed in this many blocks whatever the thread count, so that reruns give the same bits."""

LOUIS_NODES = 7
"""From this many nodes on Louis' identity serves; below, the exact gradient is differenced."""

_ROWS_A_SLICE = 512  # without a unit effect any slice may pass for a unit: this many keep the threads busy
_DIFFERENCE_STEP = 1e-5
_NUMBERS_A_PIECE = 4_000_000


@dataclass(frozen=True)
class Ratings:
    """Ratings sorted by unit, with their design.

    low, high : int64 (n,), from 1 to `levels`; columns : the design, float64 (n, p) or coded; starts : int64
    (U + 1,), slice bounds; has_units : whether a spread between units is fitted.
    """

    low: Integers
    high: Integers
    columns: Floats | CompactDesign
    starts: Integers
    levels: int
    has_units: bool

    @property
    def parameters(self) -> int:
        """Number of natural parameters."""
        return self.levels - 1 + int(self.columns.shape[1]) + int(self.has_units)

    @property
    def design(self) -> Floats:
        """The design's columns, (n, p); made anew at each call where they are coded."""
        return self.columns.columns() if isinstance(self.columns, CompactDesign) else self.columns

    def combined(self, coefficients: Floats) -> Floats:
        """Sums of coefficients (S, p) times columns, (S, n)."""
        if isinstance(self.columns, CompactDesign):
            return self.columns.combined(coefficients)
        return coefficients @ self.columns.T

    @cached_property
    def blocks(self) -> Integers:
        """Unit bounds of blocks that hold about equally many drains, int64 (B + 1,)."""
        units = self.starts.size - 1
        marks = np.linspace(0, self.low.size, min(BLOCKS, units) + 1)
        bounds = np.searchsorted(self.starts, marks[1:-1])
        return np.unique(np.concatenate(([0], bounds, [units]))).astype(np.int64)

    def rows_of(self, units: Integers) -> Integers:
        """Rows of some units, in the order of the units, int64."""
        lengths = np.diff(self.starts)[units]
        ends = np.cumsum(lengths)
        places: Integers = np.arange(lengths.sum()) + np.repeat(self.starts[units] - (ends - lengths), lengths)
        return places

    def of_units(self, units: Integers) -> Ratings:
        """The ratings of some units only, int64 places of them."""
        one_run = units.size > 0 and units[-1] - units[0] == units.size - 1 and bool(np.all(np.diff(units) == 1))
        at = slice(self.starts[units[0]], self.starts[units[-1] + 1]) if one_run else self.rows_of(units)
        starts = np.concatenate(([0], np.cumsum(np.diff(self.starts)[units]))).astype(np.int64)
        return Ratings(self.low[at], self.high[at], self.columns[at], starts, self.levels, self.has_units)


@dataclass(frozen=True)
class Expansion:
    """A partition's share of the log likelihood at natural parameters: value, gradient (P,) and Hessian (P, P).

    Partitions of units add up: the sum over them is the whole log's.
    """

    value: float
    gradient: Floats
    hessian: Floats

    def __add__(self, other: Expansion) -> Expansion:
        return Expansion(self.value + other.value, self.gradient + other.gradient, self.hessian + other.hessian)


def slices_without_units(rows: int) -> Integers:
    """Slice bounds for a log without a unit effect, int64."""
    return np.unique(np.append(np.arange(0, rows, _ROWS_A_SLICE), rows)).astype(np.int64)


class Likelihood:
    """Log marginal likelihood of `ratings` under `link`; keeps the units' modes from call to call as starts."""

    def __init__(self, ratings: Ratings, link: Link, nodes: int) -> None:
        self.ratings = ratings
        self.link = link
        x, w = roots_hermite(nodes if ratings.has_units else 1)
        self.rule = Rule(np.ascontiguousarray(x), np.log(w) + x**2)
        self.groups = Groups(ratings.starts, ratings.blocks)
        self.modes: Floats = np.zeros(ratings.starts.size - 1)

    def of_units(self, units: Integers) -> Likelihood:
        """The likelihood of some units' ratings only."""
        return Likelihood(self.ratings.of_units(units), self.link, self.rule.nodes.size)

    def drains(self, natural: Floats) -> Drains:
        """The ratings under one vector of natural parameters."""
        data = self.ratings
        cuts, base, spreads = self.many(natural[None, :])
        return Drains(self.link.code, data.low, data.high, cuts[0], base[0], float(spreads[0]))

    def many(self, natural: Floats) -> tuple[Floats, Floats, Floats]:
        """Cuts (S, K + 1), linear predictors without unit effects (S, n) and spreads (S,) of natural draws."""
        data = self.ratings
        k = data.levels - 1
        ends = np.full((natural.shape[0], 1), np.inf)
        cuts = np.hstack((-ends, natural[:, :k], ends))
        spreads = natural[:, -1].copy() if data.has_units else np.zeros(natural.shape[0])
        return cuts, data.combined(natural[:, k : k + data.columns.shape[1]]), spreads

    def pieces(self, draws: int) -> list[slice]:
        """Slices of draws whose linear predictors fit in a modest piece of memory."""
        piece = max(1, _NUMBERS_A_PIECE // max(1, self.ratings.low.size))
        return [slice(begin, begin + piece) for begin in range(0, draws, piece)]

    def value_and_gradient(self, natural: Floats) -> tuple[float, Floats]:
        """Log likelihood and its exact gradient, shape (parameters,)."""
        data = self.ratings
        by_base = np.zeros(data.low.size)
        value, by_cut, by_spread = value_and_gradient(
            self.drains(natural), self.groups, self.modes, self.rule, by_base
        )
        gradient = np.concatenate((by_cut, data.design.T @ by_base, [by_spread] if data.has_units else []))
        return float(value), gradient

    @property
    def has_expansion(self) -> bool:
        """Whether `expansion` can be had."""
        return self.ratings.has_units and self.rule.nodes.size >= LOUIS_NODES

    def expansion(self, natural: Floats) -> Expansion:
        """Value, exact gradient and Louis' Hessian in one pass over the drains.

        Needs units, and LOUIS_NODES nodes or more.
        """
        design = self.ratings.design
        return Expansion(*value_gradient_hessian(self.drains(natural), design, self.groups, self.modes, self.rule))

    def hessian(self, natural: Floats) -> Floats:
        """Hessian of the log likelihood, shape (parameters, parameters)."""
        data = self.ratings
        if data.has_units and self.rule.nodes.size < LOUIS_NODES:
            return self.differenced_hessian(natural)
        full: Floats = louis_hessian(self.drains(natural), data.design, self.groups, self.modes, self.rule)
        return full[: data.parameters, : data.parameters]

    def differenced_hessian(self, natural: Floats) -> Floats:
        """Hessian by central differences of the exact gradient."""
        rows = []
        for j in range(natural.size):
            step = _DIFFERENCE_STEP * max(1.0, abs(natural[j]))
            ahead, behind = natural.copy(), natural.copy()
            ahead[j] += step
            behind[j] -= step
            rows.append((self.value_and_gradient(ahead)[1] - self.value_and_gradient(behind)[1]) / (2 * step))
        matrix = np.array(rows)
        return np.asarray((matrix + matrix.T) / 2)

    def of_draws(self, natural: Floats) -> Floats:
        """Log likelihood of many draws, natural (S, parameters); returns (S,)."""
        data = self.ratings
        values = np.empty(natural.shape[0])
        for part in self.pieces(natural.shape[0]):
            cuts, base, spreads = self.many(natural[part])
            values[part] = log_likelihoods(
                self.link.code, data.low, data.high, cuts, base, spreads, self.groups, self.modes, self.rule
            )
        return values
