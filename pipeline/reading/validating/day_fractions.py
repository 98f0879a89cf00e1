"""Hours that a spreadsheet keeps as parts of a day: 1.0625 for 25:30."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import polars as pl

FEWEST_VALUES = 6
"""Different values with three decimals or more, from which they may show it."""
STEPS = (48, 96, 288, 1440)
"""Steps of a day in which people note hours: half an hour, 15, 5 and 1 minutes."""
BY_CHANCE = 1e-4
"""Probability under which it is no chance that all values are such steps."""
MOST_DECIMALS = 9
_MINUTES = 60


def part_of_a_day(hours: pl.Series) -> float | None:
    """One of the hours, if nearly all are steps of a day and hardly any are whole minutes as hours; else None.

    hours : as typed, [h] or in days. Values are taken as rounded to their decimals.

    >>> part_of_a_day(pl.Series([1.0625, 1.6458, 1.8958, 1.2083, 1.3542, 1.5, 1.1458]))
    1.0625
    """
    values = hours.unique(maintain_order=True).to_numpy()
    decimals = np.full(values.size, MOST_DECIMALS)
    for count in range(MOST_DECIMALS, -1, -1):
        decimals[np.abs(values - values.round(count)) < 1e-12] = count
    long = decimals >= 3
    if long.sum() < FEWEST_VALUES or 2 * long.sum() <= values.size:
        return None
    numbers, give = values[long], 0.5 * 10.0 ** -decimals[long]

    def is_step(steps: int) -> npt.NDArray[np.bool_]:
        off: npt.NDArray[np.float64] = np.abs(numbers * steps - np.rint(numbers * steps))
        return off <= 1.001 * steps * give

    odd = numbers[~is_step(_MINUTES)]
    if 2 * odd.size <= numbers.size:
        return None
    for steps in STEPS:
        if is_step(steps).all() and np.minimum(2 * steps * give, 1).prod() <= BY_CHANCE:
            return float(odd[0])
    return None
