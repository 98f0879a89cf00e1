"""Columns whose header is not known but whose cells say what they are: minutes, sides of units, kinds of service."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import polars as pl

from draincurve.pipeline.reading.cleaning.header_suggestions import header_setting, suggested_headers
from draincurve.pipeline.reading.cleaning.header_synonyms import squashed_header
from draincurve.pipeline.reading.cleaning.unit_sides import column_of_sides, with_sides
from draincurve.pipeline.reading.cleaning.word_cells import read_service_kind
from draincurve.pipeline.reading.cleaning.working_table import file_finding
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.channels import CHANNELS

MOST_KINDS = 30
"""Different cells of a column of kinds of service at most."""
LEAST_SHARE = 0.3
"""Share of the cells that must be such kinds; other cells of such a column say what was done in other words."""
_MINUTES = frozenset(("min", "mins", "minute", "minutes", "minuten", "minuto", "minutos", "minuti", "mn", "m"))
_WHOLE, _MINUTE = r"^\s*\d{1,5}\s*$", r"^\s*[0-5]?\d\s*$"


class HoursAndMinutes(NamedTuple):
    """Names in the frame of a column of whole hours and of the minutes beside them."""

    hours: str
    minutes: str


class ByCells(NamedTuple):
    """What cells say of columns whose header is not known, by their names in the frame.

    ratings : the rating that each may be, for a channel without a header. explained : those that `findings` are about
    """

    minutes: HoursAndMinutes | None
    sides: str | None
    ratings: Mapping[str, str]
    explained: frozenset[str]
    findings: tuple[pl.DataFrame, ...]


def columns_by_cells(source: SourceTable, columns: Mapping[str, str]) -> ByCells:
    """What the cells say of the columns that are not used.

    columns : column of each header that is used, by its name in the frame
    """
    unknown = [name for name in source.cell_columns if name not in columns]
    header = dict(zip(source.cell_columns, source.typed_headers, strict=True))
    explained, findings = set(), []
    pair = _hours_and_minutes(source, columns, unknown)
    if pair is not None:
        hours, minutes = (header[name].strip() for name in pair)
        message = f"columns '{hours}' and '{minutes}' are read together, as hours and minutes"
        findings.append(file_finding(None, None, kind="note", message=message))
        explained.add(pair.minutes)
    sides = column_of_sides(source, columns, [name for name in unknown if name not in explained])
    if sides is not None:
        message = (
            f"column '{header[sides].strip()}' is read as a part of the unit's name: each side is a unit of its own"
        )
        findings.append(file_finding(None, None, kind="note", message=message))
        explained.add(sides)
    services = None
    if source.table == "drains" and "service_kind" not in columns.values():
        services = _services(source, [name for name in unknown if name not in explained])
    if services is not None:
        name, cell = services
        title = header[name].strip()
        message = (
            f"column '{title}' is not used, and has cells such as '{cell}': is it service_kind? Until the settings "
            "say, every row counts as a change of oil"
        )
        setting = header_setting("service_kind", title)
        findings.append(file_finding("service_kind", title, kind="asked", message=message, setting=setting))
        explained.add(name)
    others = [(name, header[name]) for name in unknown if name not in explained]
    return ByCells(pair, sides, _ratings(source, columns, others), frozenset(explained), tuple(findings))


def _ratings(source: SourceTable, columns: Mapping[str, str], unknown: Sequence[tuple[str, str]]) -> dict[str, str]:
    if source.table != "drains":
        return {}
    absent = {channel.rating for channel in CHANNELS}.difference(columns.values())
    found = {
        header: rating
        for rating in sorted(absent)
        for header in suggested_headers(source, rating, unknown=unknown)[:1]
    }
    return {name: found[header] for name, header in unknown if header in found}


def _services(source: SourceTable, unknown: Sequence[str]) -> tuple[str, str] | None:
    """The unknown column whose cells are kinds of service, and one that is no mere change of oil.

    unknown : names in the frame
    """
    for name in unknown:
        counts = source.frame.get_column(name).cast(pl.String).drop_nulls().value_counts(sort=True)
        if not counts.height or counts.height > MOST_KINDS:
            continue
        cells, times = counts[name], counts["count"]
        read = read_service_kind(cells)
        known = read["reason"].is_null()
        other = cells.filter(known & (read["value"] != "oil"))
        if other.len() and int(times.filter(known).sum()) >= LEAST_SHARE * int(times.sum()):
            return name, str(other[0])
    return None


def is_minutes(header: str) -> bool:
    """Whether a header says minutes and no more."""
    return squashed_header(header) in _MINUTES


def _hours_and_minutes(
    source: SourceTable, columns: Mapping[str, str], unknown: Sequence[str]
) -> HoursAndMinutes | None:
    """A column of whole hours with a column of minutes to its right, if there is one.

    columns : column of each header that is used, by its name in the frame. unknown : the other names
    """
    names, headers = source.cell_columns, source.typed_headers
    for position, name in enumerate(names[1:], start=1):
        left = names[position - 1]
        is_beside = name in unknown and columns.get(left) in ("oil_hours", "meter_hours")
        if is_beside and is_minutes(headers[position]):
            pairs = source.frame.select(pl.col(left, name).cast(pl.String)).drop_nulls(name)
            whole = pairs[left].str.contains(_WHOLE).fill_null(False).all()
            if pairs.height and whole and pairs[name].str.contains(_MINUTE).all():
                return HoursAndMinutes(left, name)
    return None


def with_columns_joined(frame: pl.DataFrame, by_cells: ByCells, *, unit: str | None) -> pl.DataFrame:
    """The cells with hours as 12:30 where there are minutes beside them, and with the side behind the unit's name.

    unit : name in the frame of the column of units, if there is one
    """
    if by_cells.minutes is not None:
        frame = _with_minutes(frame, by_cells.minutes)
    return frame if by_cells.sides is None or unit is None else with_sides(frame, unit, side=by_cells.sides)


def _with_minutes(frame: pl.DataFrame, pair: HoursAndMinutes) -> pl.DataFrame:
    hours, minutes = (pl.col(name).cast(pl.String).str.strip_chars() for name in pair)
    joined = pl.format("{}:{}", hours, minutes.str.zfill(2))
    return frame.with_columns(pl.when(minutes.is_not_null()).then(joined).otherwise(hours).alias(pair.hours))
