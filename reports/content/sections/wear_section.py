"""The section on measured values: each quantity, where its limit is met, and which units to inspect by when."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl
from matplotlib.figure import Figure

from draincurve.pipeline.deciding import UnitWear, WearChannel, WearResult
from draincurve.pipeline.describing import WearLimit
from draincurve.reports.content import wording
from draincurve.reports.content.sections.wear_descriptions import wear_notes, wear_sentences
from draincurve.reports.content.unit_names import section_anchor
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.reports.figures.wear_figure import Crossing, UnitLine, WearPlot, draw_wear

MOST_ROWS = 12
MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class WearRow:
    """One unit and one quantity, in words; anchor : empty for a unit without a section."""

    name: str
    anchor: str
    latest: str
    line_meets: str
    inspect_by: str
    left: str
    past_limit: bool


@dataclass(frozen=True, slots=True)
class WearChannelSection:
    """One quantity; rows : those nearest to their limit first.  more : about units without a row."""

    key: str
    title: str
    sentences: tuple[str, ...]
    notes: tuple[str, ...]
    limited: bool
    rows: tuple[WearRow, ...]
    more: str
    picture: Picture | None


@dataclass(frozen=True, slots=True)
class WearSection:
    """All measured quantities.

    unknown : measured quantities that the program does not know.  unused_limits : limits without a measurement.
    """

    channels: tuple[WearChannelSection, ...]
    unknown: tuple[str, ...]
    unused_limits: tuple[str, ...]


def wear_section(
    figure: Figure, wear: WearResult | None, *, in_service: Collection[str], as_of: date
) -> WearSection | None:
    """Measured values in words and pictures; None if nothing was measured.

    in_service : names of the units that have a section; a unit's key is its name.
    """
    if wear is None or not (wear.channels or wear.unknown):
        return None
    return WearSection(
        tuple(
            _channel(figure, channel, number=number, in_service=in_service, as_of=as_of)
            for number, channel in enumerate(wear.channels)
        ),
        tuple(
            f"{name}{f' [{unit}]' if unit else ''}, {wording.counted(count, 'reading')}"
            for name, unit, count in wear.unknown
        ),
        wear.unused_limits,
    )


def _channel(
    figure: Figure, channel: WearChannel, *, number: int, in_service: Collection[str], as_of: date
) -> WearChannelSection:
    shown = _nearest(channel)
    title = f"{channel.title}, {channel.unit}" if channel.unit else channel.title
    return WearChannelSection(
        key=f"wear-{number}",
        title=title,
        sentences=wear_sentences(channel),
        notes=wear_notes(channel),
        limited=channel.limit is not None,
        rows=tuple(_row(unit, channel, in_service=in_service, as_of=as_of) for unit in shown[:MOST_ROWS]),
        more=_more(channel, len(shown)),
        picture=_picture(figure, channel, units=shown, number=number),
    )


def _nearest(channel: WearChannel) -> list[UnitWear]:
    """Units to list: those past the limit, then by hours left; without a limit, all with a reading."""
    if channel.limit is None:
        return sorted(
            (unit for unit in channel.units if unit.last_value is not None),
            key=lambda unit: (-_badness(channel, unit), unit.unit_key),
        )
    met = [unit for unit in channel.units if unit.past_limit or not unit.beyond_range or unit.allowed_h == 0.0]
    return sorted(
        met,
        key=lambda unit: (
            not unit.past_limit,
            unit.allowed_h is None,
            unit.allowed_h or 0.0,
            unit.line_low if unit.line_low is not None else np.inf,
            unit.unit_key,
        ),
    )


def _more(channel: WearChannel, shown: int) -> str:
    """What to know of the units that the table does not list."""
    unlisted = max(0, shown - MOST_ROWS)
    sentences = []
    if unlisted:
        verb = wording.plural(unlisted, "is", many="are")
        sentences.append(f"{wording.counted(unlisted, 'more unit')} {verb} not listed.")
    beyond = len(channel.units) - shown
    if channel.limit is not None and beyond and channel.farthest_h is not None:
        sentences.append(
            f"{wording.counted(beyond, 'unit')}{' more' if shown else ''}: the limit is not reached within "
            f"{channel.farthest_h:.0f} h, the end of what was measured and the step allowed beyond it. Nothing is "
            "known beyond that: measure by then."
        )
    return " ".join(sentences)


def _badness(channel: WearChannel, unit: UnitWear) -> float:
    value = unit.last_value or 0.0
    return {"rising": value, "falling": -value}.get(channel.worse, abs(value))


def _row(unit: UnitWear, channel: WearChannel, *, in_service: Collection[str], as_of: date) -> WearRow:
    value = "not measured"
    if unit.last_value is not None:
        bound = f"{unit.last_bound} " if unit.last_bound else ""
        value = f"{bound}{unit.last_value:.3g} on {wording.day(unit.last_on, as_of)}"
        value += _mark(unit, channel)
    return WearRow(
        name=unit.unit_key,
        anchor=section_anchor(unit.unit_key, in_service),
        latest=value,
        line_meets=_line_words(unit, channel),
        inspect_by=_inspect_words(unit),
        left=_left_words(unit),
        past_limit=unit.past_limit,
    )


def _mark(unit: UnitWear, channel: WearChannel) -> str:
    if unit.past_limit:
        return ", past its limit"
    if channel.looks is not None and unit.last_value is not None:
        look, act = channel.looks
        change = abs(unit.last_value)
        return ", time to act" if change >= act else ", worth a look" if change >= look else ""
    return ""


def _line_words(unit: UnitWear, channel: WearChannel) -> str:
    if channel.fit is None or channel.farthest_h is None:
        return wording.UNKNOWN
    beyond = f"over {channel.farthest_h:.0f} h"
    low, middle, high = (
        beyond if hours is None else f"{hours:.0f} h" for hours in (unit.line_low, unit.line_middle, unit.line_high)
    )
    return beyond if low == beyond else f"{middle} ({low} to {high})"


def _inspect_words(unit: UnitWear) -> str:
    if unit.past_limit and unit.allowed_h == 0.0:
        return "now"
    if unit.wear_hours is None:
        return wording.UNKNOWN
    hours = f"{unit.wear_hours:.0f} h{', end of what was measured' if unit.beyond_range else ''}"
    return f"now ({hours})" if unit.allowed_h == 0.0 else hours


def _left_words(unit: UnitWear) -> str:
    if unit.allowed_h is None:
        return wording.UNKNOWN
    return "none" if unit.allowed_h == 0.0 else f"{wording.hours(unit.allowed_h)} on this oil"


def _picture(figure: Figure, channel: WearChannel, *, units: list[UnitWear], number: int) -> Picture | None:
    known = channel.readings.drop_nulls(["clock_h", "value"])
    if not known.height:
        return None
    named = [unit.unit_key for unit in units if unit.unit_key in channel.unit_lines][:MOST_NAMED]
    named = named if channel.limit is not None else []
    others = [key for key in channel.unit_lines if key not in named]
    crossings = {unit.unit_key: _crossing(unit, channel) for unit in units if unit.unit_key in named}
    line = channel.fleet_line
    plot = WearPlot(
        readings=_points(known.filter("now")),
        earlier=_points(known.filter(~pl.col("now"))),
        band=None if line is None else (line.hours, line.low, line.middle, line.high),
        lines=tuple(
            UnitLine(key, *channel.unit_lines[key], key in named, crossings.get(key)) for key in (*others, *named)
        ),
        limits=_limit_labels(channel.limit),
        looks=()
        if channel.looks is None
        else tuple((sign * change, f"{sign * change:+g} %") for change in channel.looks for sign in (-1, 1)),
        farthest=channel.farthest_h,
        x_label=f"hours on the {channel.clock} [h]",
        y_label=f"{channel.title} [{channel.unit}]" if channel.unit else channel.title,
    )
    draw_wear(figure, plot)
    shown = "each reading, the fleet's line with the range of single readings, and the limit"
    nearest = f" Nearest to the limit: {', '.join(named)}." if named else ""
    description = f"{channel.title} over hours: {shown}.{nearest}"
    return inline_picture(figure, f"wear-{number}", title=channel.title, description=description)


def _crossing(unit: UnitWear, channel: WearChannel) -> Crossing | None:
    """Where a unit's line is expected to meet its limit; None where it was past it at its last reading."""
    limit = channel.limit
    if limit is None or unit.line_low is None or unit.past_limit:
        return None
    hours, values = channel.unit_lines[unit.unit_key]
    at = float(np.interp(unit.line_low if unit.line_middle is None else unit.line_middle, hours, values))
    heights = [value for value in (limit.low, limit.high) if value is not None]
    height = min(heights, key=lambda value: abs(value - at))
    return Crossing(unit.line_low, unit.line_middle, unit.line_high, height)


def _points(rows: pl.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    return rows["clock_h"].cast(pl.Float64).to_numpy(), rows["value"].to_numpy()


def _limit_labels(limit: WearLimit | None) -> tuple[tuple[float, str], ...]:
    if limit is None:
        return ()
    return tuple((value, f"limit {value:g} {limit.unit}") for value in (limit.low, limit.high) if value is not None)
