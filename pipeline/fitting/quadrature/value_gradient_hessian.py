"""Value, exact gradient and Louis' information of the rating model in one pass over the drains, compiled.

The sums are those of `adaptive_quadrature.value_and_gradient` and `louis_identity.louis_hessian`, but every rating's
probability is evaluated once: a unit's values at all nodes are kept until the nodes are weighted (`node_values`), and
units are summed by matrix products (`block_sums`). Both work in memory that fits in the processor's cache. Large
logs are fitted this way, because there the passes over the drains take most of the time.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, Groups, Rule, longest_unit
from draincurve.pipeline.fitting.quadrature.block_sums import (
    Sums,
    add_curvatures,
    add_products,
    add_scores,
    has_room,
    new_sums,
    spread_out,
)
from draincurve.pipeline.fitting.quadrature.logit_factors import cut_factors
from draincurve.pipeline.fitting.quadrature.node_gradient import moving_nodes
from draincurve.pipeline.fitting.quadrature.node_values import UnitMemory, memory_for, nodes_of, weigh
from draincurve.schemas.array_types import Floats


@njit(cache=True, parallel=True)
def value_gradient_hessian(
    drains: Drains, design: Floats, groups: Groups, modes: Floats, rule: Rule
) -> tuple[float, Floats, Floats]:
    """(log likelihood, gradient (P,), Hessian (P, P)); P thresholds, columns, spread; updates `modes`.

    design : float64 (n, p), row after row.
    """
    n_blocks = groups.blocks.size - 1
    size = drains.cuts.size - 2 + design.shape[1] + 1
    longest = longest_unit(groups.starts)
    value = np.zeros(n_blocks)
    gradient = np.zeros((n_blocks, size))
    hessian = np.zeros((n_blocks, size, size))
    by_cut_factors = cut_factors(drains.cuts)
    for block in prange(n_blocks):
        memory = memory_for(longest, rule.nodes.size)
        sums = new_sums(longest, rule.nodes.size, drains.cuts.size, design.shape[1])
        begin = groups.starts[groups.blocks[block]]
        units = 0
        for u in range(groups.blocks[block], groups.blocks[block + 1]):
            first, last = groups.starts[u], groups.starts[u + 1]
            if not has_room(sums, units, last - begin):
                add_products(sums, design, begin, first, units)
                begin, units = first, 0
            modes[u], part = _add_unit(
                sums, memory, units, begin, drains, design, first, last, modes[u], rule, by_cut_factors
            )
            value[block] += part
            units += 1
        add_products(sums, design, begin, groups.starts[groups.blocks[block + 1]], units)
        spread_out(sums, gradient[block], hessian[block])
    return _summed(value, gradient, hessian)


@njit(cache=True)
def _add_unit(
    sums: Sums,
    memory: UnitMemory,
    place: int,
    begin: int,
    drains: Drains,
    design: Floats,
    first: int,
    last: int,
    start: float,
    rule: Rule,
    by_cut_factors: Floats,
) -> tuple[float, float]:
    """Add a unit's drains, as the `place`-th unit of a piece that begins at a drain; (mode, log likelihood)."""
    unit = nodes_of(memory, last - first)
    mode, curvature, by_eta, value = weigh(drains, first, last, start, rule, by_cut_factors, unit)
    slope, slope_node = add_scores(sums, place, drains, design, first, last, rule, unit)
    add_curvatures(sums, begin, drains, design, first, last, unit)
    sums.gradient[-1] += moving_nodes(
        drains.low[first:last],
        drains.high[first:last],
        drains.spread,
        mode,
        curvature,
        slope,
        slope_node,
        by_eta,
        unit.at_mode,
        sums.curvatures[first - begin : last - begin, -1],
        sums.by_cut,
    )
    return mode, value


@njit(cache=True)
def _summed(value: Floats, gradient: Floats, hessian: Floats) -> tuple[float, Floats, Floats]:
    """Sums over blocks in a fixed order, and the upper triangle beside the lower."""
    size = gradient.shape[1]
    whole = 0.0
    by = np.zeros(size)
    full = np.zeros((size, size))
    for block in range(value.size):
        whole += value[block]
        for j in range(size):
            by[j] += gradient[block, j]
            for k in range(j + 1):
                full[j, k] += hessian[block, j, k]
    for j in range(size):
        for k in range(j):
            full[k, j] = full[j, k]
    return whole, by, full
