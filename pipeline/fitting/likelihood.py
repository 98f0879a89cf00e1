"""The marginal likelihood of a log's ratings as a function of natural parameters: value, gradient, Hessian.

Natural parameters (P,), in this order: thresholds (K - 1), one coefficient for each design column (p, the log hours
among them), standard deviation between units (1, absent without units).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
from scipy.special import roots_hermite

from draincurve.pipeline.describing import CompactDesign
from draincurve.pipeline.fitting.links import Link
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, Rule, UnitSlices, value_and_gradient
from draincurve.pipeline.fitting.quadrature.draw_likelihoods import log_likelihoods_of_draws
from draincurve.pipeline.fitting.quadrature.louis_identity import louis_hessian
from draincurve.pipeline.fitting.quadrature.value_gradient_hessian import value_gradient_hessian
from draincurve.schemas.array_types import Floats, Integers, read_only

BLOCKS = 64
"""Units are summed in this many blocks whatever the number of threads, so that reruns give the same bits."""

FEWEST_LOUIS_NODES = 7
"""With this many nodes the Hessian is Louis'; with fewer the exact gradient is differenced."""

_SLICE_ROWS = 512  # without a unit effect any slice of rows can be a unit: this size keeps the threads busy
_DIFFERENCE_STEP = 1e-5
_CHUNK_NUMBERS = 4_000_000


@dataclass(frozen=True)
class Ratings:
    """Ratings sorted by unit, with their design.

    low, high : int64 (n,), from 1 to `levels`; columns : the design, float64 (n, p) or coded; starts : int64
    (U + 1,), first row of each unit, with the end last; has_units : whether units have an effect
    """

    low: Integers
    high: Integers
    columns: Floats | CompactDesign
    starts: Integers
    levels: int
    has_units: bool

    def __post_init__(self) -> None:
        object.__setattr__(self, "low", read_only(self.low))
        object.__setattr__(self, "high", read_only(self.high))

    @property
    def parameters(self) -> int:
        """Number of natural parameters."""
        return self.levels - 1 + int(self.columns.shape[1]) + int(self.has_units)

    @property
    def design(self) -> Floats:
        """The design's columns, (n, p); a coded design is expanded at each call."""
        return self.columns.columns() if isinstance(self.columns, CompactDesign) else self.columns

    def combined(self, coefficients: Floats) -> Floats:
        """Sums of coefficients (S, p) times columns, (S, n)."""
        if isinstance(self.columns, CompactDesign):
            return self.columns.combined(coefficients)
        return coefficients @ self.columns.T

    @cached_property
    def blocks(self) -> Integers:
        """First unit of blocks with about equally many drains, int64 (B + 1,), with the end last."""
        units = self.starts.size - 1
        marks = np.linspace(0, self.low.size, min(BLOCKS, units) + 1)
        bounds = np.searchsorted(self.starts, marks[1:-1])
        return np.unique(np.concatenate(([0], bounds, [units]))).astype(np.int64)

    def rows_of(self, units: Integers) -> Integers:
        """Rows of some units, in the order of the units, int64."""
        lengths = np.diff(self.starts)[units]
        ends = np.cumsum(lengths)
        rows: Integers = np.arange(lengths.sum()) + np.repeat(self.starts[units] - (ends - lengths), lengths)
        return rows

    def of_units(self, units: Integers) -> Ratings:
        """The ratings of some units only; units : int64, their indices."""
        successive = units.size > 0 and units[-1] - units[0] == units.size - 1 and bool(np.all(np.diff(units) == 1))
        rows = slice(self.starts[units[0]], self.starts[units[-1] + 1]) if successive else self.rows_of(units)
        starts = np.concatenate(([0], np.cumsum(np.diff(self.starts)[units]))).astype(np.int64)
        return Ratings(self.low[rows], self.high[rows], self.columns[rows], starts, self.levels, self.has_units)


@dataclass(frozen=True)
class Expansion:
    """Second-order expansion of the log likelihood at natural parameters: value, gradient (P,) and Hessian (P, P).

    Expansions add up over partitions of units.
    """

    value: float
    gradient: Floats
    hessian: Floats

    def __add__(self, other: Expansion) -> Expansion:
        return Expansion(self.value + other.value, self.gradient + other.gradient, self.hessian + other.hessian)


def slices_without_units(rows: int) -> Integers:
    """Slice bounds for a log without a unit effect, int64."""
    return np.unique(np.append(np.arange(0, rows, _SLICE_ROWS), rows)).astype(np.int64)


@cache
def _rule(nodes: int) -> Rule:
    """Nodes of the quadrature and their log weights; kept, since a likelihood of one unit takes less time."""
    x, w = roots_hermite(nodes)
    return Rule(np.ascontiguousarray(x), np.log(w) + x**2)


class Likelihood:
    """Log marginal likelihood of `ratings` under `link`.

    modes : (U,), the units' modes at the last call, from which the next call starts its searches
    """

    def __init__(self, ratings: Ratings, link: Link, *, nodes: int) -> None:
        self.ratings = ratings
        self.link = link
        self.rule = _rule(nodes if ratings.has_units else 1)
        self.slices = UnitSlices(ratings.starts, ratings.blocks)
        self.modes: Floats = np.zeros(ratings.starts.size - 1)

    def of_units(self, units: Integers) -> Likelihood:
        """The likelihood of some units' ratings only."""
        return Likelihood(self.ratings.of_units(units), self.link, nodes=self.rule.nodes.size)

    def with_units_joined(self, begins: Integers) -> Likelihood:
        """The same ratings of fewer units; begins : first of the units that become one, with the end last, int64."""
        ratings = replace(self.ratings, starts=self.ratings.starts[begins])
        joined = Likelihood(ratings, self.link, nodes=self.rule.nodes.size)
        if joined.modes.size:
            joined.modes = np.add.reduceat(self.modes, begins[:-1]) / np.diff(begins)
        return joined

    def drains(self, natural: Floats) -> Drains:
        """The ratings under one vector of natural parameters."""
        data = self.ratings
        bounds, fixed, unit_sds = self.unpacked(natural[None, :])
        return Drains(self.link.code, data.low, data.high, bounds[0], fixed[0], float(unit_sds[0]))

    def unpacked(self, natural: Floats) -> tuple[Floats, Floats, Floats]:
        """Bounds (S, K + 1), fixed linear predictors (S, n) and unit sds (S,) of natural draws (S, P)."""
        data = self.ratings
        k = data.levels - 1
        ends = np.full((natural.shape[0], 1), np.inf)
        bounds = np.hstack((-ends, natural[:, :k], ends))
        unit_sds = natural[:, -1].copy() if data.has_units else np.zeros(natural.shape[0])
        return bounds, data.combined(natural[:, k : k + data.columns.shape[1]]), unit_sds

    def draw_chunks(self, draws: int) -> list[slice]:
        """Slices of draws whose linear predictors take little memory."""
        chunk = max(1, _CHUNK_NUMBERS // max(1, self.ratings.low.size))
        return [slice(begin, begin + chunk) for begin in range(0, draws, chunk)]

    def value_and_gradient(self, natural: Floats) -> tuple[float, Floats]:
        """Log likelihood and its exact gradient (P,)."""
        data = self.ratings
        by_predictor = np.zeros(data.low.size)
        value, by_threshold, by_unit_sd = value_and_gradient(
            self.drains(natural), self.slices, self.modes, self.rule, by_predictor
        )
        gradient = np.concatenate(
            (by_threshold, data.design.T @ by_predictor, [by_unit_sd] if data.has_units else [])
        )
        return float(value), gradient

    @property
    def has_expansion(self) -> bool:
        """Whether `expansion` is implemented for these ratings: with units and enough nodes for Louis' identity."""
        return self.ratings.has_units and self.rule.nodes.size >= FEWEST_LOUIS_NODES

    def expansion(self, natural: Floats) -> Expansion:
        """Value, exact gradient and Louis' Hessian in one pass over the drains, where `has_expansion`."""
        design = self.ratings.design
        return Expansion(*value_gradient_hessian(self.drains(natural), design, self.slices, self.modes, self.rule))

    def hessian(self, natural: Floats) -> Floats:
        """Hessian of the log likelihood, (P, P)."""
        data = self.ratings
        if data.has_units and self.rule.nodes.size < FEWEST_LOUIS_NODES:
            return self.differenced_hessian(natural)
        full: Floats = louis_hessian(self.drains(natural), data.design, self.slices, self.modes, self.rule)
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
        """Log likelihood of natural draws (S, P); (S,)."""
        data = self.ratings
        values = np.empty(natural.shape[0])
        for part in self.draw_chunks(natural.shape[0]):
            bounds, fixed, unit_sds = self.unpacked(natural[part])
            values[part] = log_likelihoods_of_draws(
                self.link.code, data.low, data.high, bounds, fixed, unit_sds, self.slices, self.modes, self.rule
            )
        return values
