"""What a whole column of hours may be instead: readings of a meter, minutes, or parts of a day."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import polars as pl

from draincurve.pipeline.reading.validating.running_hours import running_symptom
from draincurve.schemas.columns import column_of

SHORTEST_USUAL = 1.0
"""Most fills under this [h] may be parts of a day, in which a spreadsheet keeps a time."""
FEWEST_FILLS = 5
"""Of fewer fills each is asked about by itself."""
_MOSTLY = 0.5
FEWEST_VALUES = 6
"""Different values with three decimals or more, from which they may show it."""
STEPS = (48, 96, 288, 1440)
"""Steps of a day in which people note hours: half an hour, 15, 5 and 1 minutes."""
BY_CHANCE = 1e-4
"""Probability under which it is no chance that all values are such steps."""
MOST_DECIMALS = 9
_MINUTES = 60


class ColumnQuestion(NamedTuple):
    """What is asked about a column, the value that shows it, and the settings that answer."""

    message: str
    value: str
    setting: str


def column_question(rows: pl.DataFrame, ascents: pl.DataFrame, *, header: str) -> ColumnQuestion | None:
    """The question about all typed hours of a log, if there is one.

    rows : typed fills, with _hours [h]; ascents : their `ascents_by_unit`; header : as typed in the file
    """
    meant = f'[headers]\noil_hours = ["{header}"]'
    until = "Until the settings say, no hours are known"
    symptom = running_symptom(ascents)
    if symptom is not None:
        return ColumnQuestion(
            f"{symptom}: are they meter readings? {until}",
            header,
            f'[headers]\nmeter_hours = ["{header}"]  # or oil_hours, if they are hours on the oil',
        )
    high = column_of("drains", "oil_hours").asked_high or 0.0
    if rows.height < FEWEST_FILLS:
        return None
    over, under = (rows["_hours"] > high).sum(), (rows["_hours"] < SHORTEST_USUAL).sum()
    if over > _MOSTLY * rows.height:
        text = f"hours over {high:g} h at most drains ({over} of {rows.height}): are they minutes? Then write"
        return ColumnQuestion(f"{text} '{header} min' above them. {until}", header, meant)
    if under > _MOSTLY * rows.height:
        text = f"hours under {SHORTEST_USUAL:g} h at most drains ({under} of {rows.height}): are they parts of a day?"
        return ColumnQuestion(f"{text} Then type them as 12:30 or 12.5. {until}", header, meant)
    part = part_of_a_day(rows["_hours"])
    if part is not None:
        text = f"hours such as {part:g} are whole minutes only as parts of a day: are they? Then type them as"
        return ColumnQuestion(f"{text} {24 * part:.1f}. {until}", header, meant)
    return None


def off_meter_question(rows: pl.DataFrame, header: str) -> ColumnQuestion | None:
    """The question about a meter that most typed hours differ from, if there is one.

    rows : typed fills, with meter_hours, and off_meter_h [h] where both differ; header : of the meter's column
    """
    both = rows.filter(pl.col("meter_hours").is_not_null())
    off = both["off_meter_h"].count()
    if both.height < FEWEST_FILLS or off <= _MOSTLY * both.height:
        return None
    message = (
        f"hours differ from the meter at most drains ({off} of {both.height}): does it count other hours? "
        "The settings can make its column a note; until then its hours are unknown"
    )
    return ColumnQuestion(message, header, f'[headers]\nnote = ["{header}"]')


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
