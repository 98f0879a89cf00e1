"""Value, exact gradient and Louis' information of the rating model in one pass over the drains, compiled.

The sums are those of `adaptive_quadrature.value_and_gradient` and `louis_identity.louis_hessian`, but every rating's
probability is evaluated once: a unit's values at all nodes are kept until the nodes are weighted (`node_values`), and
units are summed by matrix products (`block_sums`). Both work in memory that fits in the processor's cache.

Large logs are fitted this way, because there the passes over the drains take most of the time.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, Rule, UnitSlices, longest_unit
from draincurve.pipeline.fitting.quadrature.block_sums import (
    BlockSums,
    add_curvatures,
    add_products,
    add_scores,
    add_to_totals,
    has_room,
    new_block_sums,
)
from draincurve.pipeline.fitting.quadrature.logit_factors import bound_exponentials
from draincurve.pipeline.fitting.quadrature.node_gradient import add_node_gradient
from draincurve.pipeline.fitting.quadrature.node_values import Workspace, evaluate_nodes, new_workspace, node_values
from draincurve.pipeline.fitting.thread_limits import compiled_loop
from draincurve.schemas.array_types import Floats


@compiled_loop
def value_gradient_hessian(
    drains: Drains, design: Floats, slices: UnitSlices, modes: Floats, rule: Rule
) -> tuple[float, Floats, Floats]:
    """(log likelihood, gradient (P,), Hessian (P, P)) by thresholds, columns and unit sd; updates `modes` (U,).

    design : float64 (n, p), contiguous by row
    """
    n_blocks = slices.blocks.size - 1
    size = drains.bounds.size - 2 + design.shape[1] + 1
    longest = longest_unit(slices.starts)
    value = np.zeros(n_blocks)
    gradient = np.zeros((n_blocks, size))
    hessian = np.zeros((n_blocks, size, size))
    exp_bounds = bound_exponentials(drains.bounds)
    for block in prange(n_blocks):
        workspace = new_workspace(longest, rule.nodes.size)
        sums = new_block_sums(longest, rule.nodes.size, drains.bounds.size, design.shape[1])
        begin = slices.starts[slices.blocks[block]]
        units = 0
        for u in range(slices.blocks[block], slices.blocks[block + 1]):
            first, last = slices.starts[u], slices.starts[u + 1]
            if not has_room(sums, units, last - begin):
                add_products(sums, design, begin, first, units)
                begin, units = first, 0
            modes[u], part = _add_unit(
                sums, workspace, units, begin, drains, design, first, last, modes[u], rule, exp_bounds
            )
            value[block] += part
            units += 1
        add_products(sums, design, begin, slices.starts[slices.blocks[block + 1]], units)
        add_to_totals(sums, gradient[block], hessian[block])
    return _summed(value, gradient, hessian)


@njit(cache=True)
def _add_unit(
    sums: BlockSums,
    workspace: Workspace,
    slot: int,
    begin: int,
    drains: Drains,
    design: Floats,
    first: int,
    last: int,
    start: float,
    rule: Rule,
    exp_bounds: Floats,
) -> tuple[float, float]:
    """Add a unit to a batch as its unit number `slot`; begin : first drain of the batch. (mode, log likelihood)."""
    unit = node_values(workspace, last - first)
    mode, curvature, by_eta, value = evaluate_nodes(drains, first, last, start, rule, exp_bounds, unit)
    slope, slope_node = add_scores(sums, slot, drains, design, first, last, rule, unit)
    add_curvatures(sums, begin, drains, design, first, last, unit)
    sums.gradient[-1] += add_node_gradient(
        drains.low[first:last],
        drains.high[first:last],
        drains.unit_sd,
        mode,
        curvature,
        slope,
        slope_node,
        by_eta,
        unit.mode_derivatives,
        sums.curvatures[first - begin : last - begin, -1],
        sums.by_bound,
    )
    return mode, value


@njit(cache=True)
def _summed(value: Floats, gradient: Floats, hessian: Floats) -> tuple[float, Floats, Floats]:
    """Sums over the blocks in a fixed order, with the upper triangle of the Hessian filled in."""
    size = gradient.shape[1]
    total_value = 0.0
    total_gradient = np.zeros(size)
    total_hessian = np.zeros((size, size))
    for block in range(value.size):
        total_value += value[block]
        for j in range(size):
            total_gradient[j] += gradient[block, j]
            for k in range(j + 1):
                total_hessian[j, k] += hessian[block, j, k]
    for j in range(size):
        for k in range(j):
            total_hessian[k, j] = total_hessian[j, k]
    return total_value, total_gradient, total_hessian
