"""Which unit effects of a known fit serve another interpretation of the log as they are.

A draw of a unit's effects depends on the draw of the parameters and on the unit's own rows. Where neither changed, it
is a draw for the other interpretation too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.schemas.array_types import Booleans, Floats, Integers

_ROUNDING = 1e-9


def unchanged_draws(fits: Sequence[ChannelFit], near: Sequence[ChannelFit]) -> Booleans | None:
    """Whether each draw has the parameters of the same draw of the known fits, (S,); None where none has."""
    same = np.ones(near[0].draws, dtype=bool)
    for fit, known in zip(fits, near, strict=True):
        if fit.posterior is known.posterior:
            continue
        if fit.posterior.known_at is None or fit.draws != same.size:
            return None
        same &= fit.posterior.known_at == np.arange(same.size)
    return same


def unchanged_units(
    fits: Sequence[ChannelFit],
    near: Sequence[ChannelFit],
    *,
    unit_keys: Sequence[str],
    near_keys: Sequence[str],
) -> Integers:
    """Index of each unit in `near_keys` where its rows are those of the known fits on every channel, else -1."""
    index = {key: number for number, key in enumerate(near_keys)}
    unchanged = np.array([index.get(key, -1) for key in unit_keys], dtype=np.int64)
    for fit, known in zip(fits, near, strict=True):
        if fit.posterior is not known.posterior:
            rows, known_rows = _rows_of_units(fit), _rows_of_units(known)
            unchanged[[not _equal_rows(rows.get(key), known_rows.get(key)) for key in unit_keys]] = -1
    return unchanged


def _rows_of_units(fit: ChannelFit) -> Mapping[str, Floats]:
    """Each unit's ratings and columns, as they are before any centring; (rows, p + 3)."""
    ratings = fit.fit.objective.likelihood.ratings
    table = np.column_stack((ratings.low, ratings.high, ratings.design + fit.fit.centres + fit.drains.origin))
    return dict(zip(fit.unit_keys, np.split(table, ratings.starts[1:-1]), strict=True))


def _equal_rows(rows: Floats | None, other_rows: Floats | None) -> bool:
    if rows is None or other_rows is None:
        return rows is other_rows
    return rows.shape == other_rows.shape and bool(np.max(np.abs(rows - other_rows), initial=0.0) < _ROUNDING)
