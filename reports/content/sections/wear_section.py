"""The page's section on measured values: how each quantity changes, where its limit is met, what to inspect."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl
from matplotlib.figure import Figure

from draincurve.pipeline.deciding import UnitWear, WearChannel, WearResult
from draincurve.pipeline.describing import WearLimit
from draincurve.pipeline.judging import FleetLimit
from draincurve.reports.content import wording
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.reports.figures.wear_figure import UnitLine, WearPlot, draw_wear

MOST_ROWS = 12
MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class WearRow:
    """One unit in one channel, in words; `anchor` is empty where the page has no section on it."""

    name: str
    anchor: str
    latest: str
    line_meets: str
    inspect_by: str
    left: str
    late: bool


@dataclass(frozen=True, slots=True)
class WearChannelSection:
    """One quantity; rows come nearest to their limit first, `more` says what holds of the others."""

    anchor: str
    title: str
    sentences: tuple[str, ...]
    asides: tuple[str, ...]
    limited: bool
    rows: tuple[WearRow, ...]
    more: str
    picture: Picture | None


@dataclass(frozen=True, slots=True)
class WearSection:
    """All measured quantities, and what was measured but is not known here."""

    channels: tuple[WearChannelSection, ...]
    unknown: tuple[str, ...]
    unused_limits: tuple[str, ...]


def wear_section(
    figure: Figure, wear: WearResult | None, in_service: Collection[str], as_of: date
) -> WearSection | None:
    """Everything the page says about measured values; None where nothing was measured.

    in_service : names of the units that the page has sections on; a unit's key is its name there.
    """
    if wear is None or not (wear.channels or wear.unknown):
        return None
    return WearSection(
        tuple(_channel(figure, channel, place, in_service, as_of) for place, channel in enumerate(wear.channels)),
        tuple(
            f"{name}{f' [{unit}]' if unit else ''}, {wording.counted(count, 'reading')}"
            for name, unit, count in wear.unknown
        ),
        wear.unused_limits,
    )


def _channel(
    figure: Figure, channel: WearChannel, place: int, in_service: Collection[str], as_of: date
) -> WearChannelSection:
    shown = _nearest(channel)
    title = f"{channel.title}, {channel.unit}" if channel.unit else channel.title
    return WearChannelSection(
        anchor=f"wear-{place}",
        title=title,
        sentences=tuple(_sentences(channel)),
        asides=tuple(_asides(channel)),
        limited=channel.limit is not None,
        rows=tuple(_row(unit, channel, in_service, as_of) for unit in shown[:MOST_ROWS]),
        more=_more(channel, len(shown)),
        picture=_picture(figure, channel, shown, place),
    )


def _nearest(channel: WearChannel) -> list[UnitWear]:
    """Units to list: those past the limit, then by what is left; without a limit those with a reading."""
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
    """Units that the table does not list."""
    cut = max(0, shown - MOST_ROWS)
    said = [f"{wording.counted(cut, 'more unit')} {wording.plural(cut, 'is', 'are')} not listed."] if cut else []
    beyond = len(channel.units) - shown
    if channel.limit is not None and beyond and channel.farthest_h is not None:
        said.append(
            f"{wording.counted(beyond, 'unit')}{' more' if shown else ''}: the limit is not met within "
            f"{channel.farthest_h:.0f} h, the end of what was measured and the step allowed beyond it. Nothing is "
            "known further on: measure by then."
        )
    return " ".join(said)


def _badness(channel: WearChannel, unit: UnitWear) -> float:
    value = unit.last_value or 0.0
    return {"rising": value, "falling": -value}.get(channel.worse, abs(value))


def _row(unit: UnitWear, channel: WearChannel, in_service: Collection[str], as_of: date) -> WearRow:
    known = unit.unit_key in in_service
    value = "not measured"
    if unit.last_value is not None:
        value = f"{unit.last_value:.3g} on {wording.day(unit.last_on, as_of)}"
        value += _mark(unit, channel)
    return WearRow(
        name=unit.unit_key,
        anchor=wording.anchor(unit.unit_key) if known else "",
        latest=value,
        line_meets=_line_words(unit, channel),
        inspect_by=_point_words(unit),
        left=_left_words(unit),
        late=unit.past_limit,
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


def _point_words(unit: UnitWear) -> str:
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


def _sentences(channel: WearChannel) -> list[str]:
    clock = "hours on the oil" if channel.clock == "oil" else "hours on the part since it was new or rebuilt"
    said = [wording.sentence(f"{channel.meaning}; over {clock}")]
    if channel.limit is not None:
        said.append(f"Limit: {channel.limit.words} ({channel.limit.source}, written as '{channel.limit.text}').")
    else:
        said.append("No limit is set, so no date follows from it. Set one under [wear_limits] in the settings.")
    if channel.looks is not None:
        look, act = channel.looks
        said.append(
            f"A change of {look:g} % from new is a first look and {act:g} % is for action: a common industrial start "
            "(trade literature), not the maker's word."
        )
    if channel.why_not is not None:
        said.append(wording.sentence(f"No line was fitted: {channel.why_not}"))
    elif channel.fit is not None:
        said.append(_growth(channel))
    if isinstance(channel.fleet_limit, FleetLimit):
        said.append(_fleet_limit_words(channel.fleet_limit, channel))
    elif channel.fleet_limit:
        said.append(channel.fleet_limit)
    return said


def _growth(channel: WearChannel) -> str:
    """The fleet's change in ten hours, with twice its standard error."""
    fit = channel.fit
    assert fit is not None
    slope, error = fit.slope
    if fit.log:
        middle, low, high = (100.0 * np.expm1(10.0 * at) for at in (slope, slope - 2 * error, slope + 2 * error))
        unit = "%"
    else:
        middle, low, high = (10.0 * at for at in (slope, slope - 2 * error, slope + 2 * error))
        unit = channel.unit.removesuffix(" from new")
    clear = "" if low > 0 or high < 0 else "; it could be none or the other way, which is not taken as safe"
    return f"In ten hours it changes by {middle:.2g} {unit} in the typical unit ({low:.2g} to {high:.2g}){clear}."


def _fleet_limit_words(limit: FleetLimit, channel: WearChannel) -> str:
    return (
        f"From the fleet's own {limit.readings} parts: {100 * limit.share:.0f} % of readings lie "
        f"{'under' if limit.side == 'over' else 'over'} {limit.value:.3g} {channel.unit} ({limit.low:.3g} to "
        f"{limit.high:.3g}; {limit.method}). Look from {limit.look_from:.3g} {channel.unit} on. This is a "
        "statistical limit: it says what is unusual in this fleet, sets no date, and never says that a part is fit "
        "to ride."
    )


def _asides(channel: WearChannel) -> list[str]:
    said = list(channel.left_out)
    if channel.fit is not None and channel.fit.note:
        said.append(wording.sentence(channel.fit.note))
    return said


def _picture(figure: Figure, channel: WearChannel, units: list[UnitWear], place: int) -> Picture | None:
    known = channel.readings.drop_nulls(["clock_h", "value"])
    if not known.height:
        return None
    named = [unit.unit_key for unit in units if unit.unit_key in channel.unit_lines][:MOST_NAMED]
    named = named if channel.limit is not None else []
    others = [key for key in channel.unit_lines if key not in named]
    line = channel.fleet_line
    plot = WearPlot(
        readings=_dots(known.filter("now")),
        earlier=_dots(known.filter(~pl.col("now"))),
        band=None if line is None else (line.hours, line.low, line.middle, line.high),
        lines=tuple(UnitLine(key, *channel.unit_lines[key], key in named) for key in (*others, *named)),
        limits=_levels(channel.limit),
        looks=()
        if channel.looks is None
        else tuple((sign * at, f"{sign * at:+g} %") for at in channel.looks for sign in (-1, 1)),
        farthest=channel.farthest_h,
        x_label=f"hours on the {channel.clock} [h]",
        y_label=f"{channel.title} [{channel.unit}]" if channel.unit else channel.title,
    )
    draw_wear(figure, plot)
    shown = "each reading, the fleet's line with the range of single readings, and the limit"
    nearest = f" Nearest to the limit: {', '.join(named)}." if named else ""
    description = f"{channel.title} over hours: {shown}.{nearest}"
    return inline_picture(figure, f"wear-{place}", title=channel.title, description=description)


def _dots(rows: pl.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    return rows["clock_h"].cast(pl.Float64).to_numpy(), rows["value"].to_numpy()


def _levels(limit: WearLimit | None) -> tuple[tuple[float, str], ...]:
    if limit is None:
        return ()
    return tuple((value, f"limit {value:g} {limit.unit}") for value in (limit.low, limit.high) if value is not None)
