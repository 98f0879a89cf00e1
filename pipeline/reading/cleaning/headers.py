"""Headers matched to the contract's columns: case, spaces and punctuation do not matter, and a unit may follow."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.reading.cleaning.header_synonyms import COLUMN_OF_HEADER, squashed_header
from draincurve.pipeline.reading.cleaning.units_of_measurement import TARGETS, fits, is_unit
from draincurve.pipeline.reading.cleaning.working_table import file_finding, joined_findings
from draincurve.pipeline.reading.sources.source_table import LINE, SourceTable
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import TABLES, Column, column_of
from draincurve.schemas.errors import SourceError

_BRACKET = re.compile(r"[(\[{<](?P<inside>[^)\]}>]*)[)\]}>]")
_DATE_ORDERS = {"d": "day first", "m": "month first", "y": "year first"}


@dataclass(frozen=True, slots=True)
class MatchedHeader:
    """The column that a header means, with its unit and the order of day and month, where it names them.

    exact : the header is the contract's own name, not a synonym
    """

    column: str
    unit: str | None = None
    date_order: str | None = None
    exact: bool = False


@dataclass(frozen=True, slots=True)
class MatchedTable:
    """A table under the contract's names.

    frame : `_row` (from 0), `_line`, and the cells as typed of each column that the file has
    units : units in headers, by column. date_orders : orders of day and month in headers, by column
    findings : about headers, so about the whole file
    """

    table: str
    frame: pl.DataFrame
    units: Mapping[str, str]
    date_orders: Mapping[str, str]
    findings: pl.DataFrame


def matched_table(source: SourceTable) -> MatchedTable:
    """The table under the contract's names. Unknown columns are left out, with a finding that names them.

    Raises SourceError where two headers mean one column, and where a column is missing that every row needs.
    """
    matches = {
        name: match_header(header, source.table)
        for name, header in zip(source.cell_columns, source.typed_headers, strict=True)
    }
    chosen = _one_for_each(source, matches)
    _refuse_missing(source, set(chosen))
    used = set(chosen.values())
    frame = source.frame.with_row_index("_row").select(
        "_row", LINE, *[pl.col(name).alias(column) for column, name in chosen.items()]
    )
    remarks = [
        _left_out(source.table, name, header=header, match=matches[name])
        for name, header in zip(source.cell_columns, source.typed_headers, strict=True)
        if name not in used
    ]
    remarks += [_no_unit(source.table, column, name=name, match=matches[name]) for column, name in chosen.items()]
    units = {column: unit for column, name in chosen.items() if (unit := _unit(matches[name])) is not None}
    orders = {
        column: match.date_order
        for column, name in chosen.items()
        if (match := matches[name]) is not None and match.date_order is not None
    }
    return MatchedTable(source.table, frame, units, orders, joined_findings(remarks))


def match_header(header: str, table: str) -> MatchedHeader | None:
    """The column that a header means, or None. "Drained (cc)", "ride time min" and "Oil hours [h]" name units."""
    names = COLUMN_OF_HEADER[table]
    whole = squashed_header(header)
    if whole in names:
        return MatchedHeader(names[whole], exact=whole == squashed_header(names[whole]))
    bracket = _BRACKET.search(header)
    if bracket is not None:
        base = squashed_header(_BRACKET.sub(" ", header))
        if base in names:
            column = column_of(table, names[base])
            return _with_bracket(column, bracket["inside"], exact=base == squashed_header(column.name))
    return _with_trailing_unit(header, table)


def _with_bracket(column: Column, inside: str, *, exact: bool) -> MatchedHeader | None:
    """A unit or an order of dates in brackets; anything else in brackets is a comment."""
    if column.kind in TARGETS and is_unit(inside):
        return MatchedHeader(column.name, inside, None, exact) if fits(inside, column.kind) else None
    letters = re.sub(r"[^a-z]", "", inside.casefold())
    order = _DATE_ORDERS.get(letters[:1]) if re.fullmatch(r"(d+m+y+|m+d+y+|y+m+d+)", letters) else None
    return MatchedHeader(column.name, None, order if column.kind == "date" else None, exact)


def _with_trailing_unit(header: str, table: str) -> MatchedHeader | None:
    """The last one or two words may be a unit that fits the column: drained cc, settle min, filled fl oz."""
    words = [word for word in re.split(r"[\s_,;:/\-()\[\].]+", header) if word]
    for count in (1, 2):
        base, unit = squashed_header("".join(words[:-count])), " ".join(words[-count:])
        if base in COLUMN_OF_HEADER[table]:
            column = column_of(table, COLUMN_OF_HEADER[table][base])
            if fits(unit, column.kind):
                return MatchedHeader(column.name, unit, None, base == squashed_header(column.name))
    return None


def _one_for_each(source: SourceTable, matches: Mapping[str, MatchedHeader | None]) -> dict[str, str]:
    """Name in the frame of each column's header; the contract's own name wins over a synonym."""
    by_column: dict[str, list[str]] = {}
    for name, match in matches.items():
        if match is not None:
            by_column.setdefault(match.column, []).append(name)
    chosen: dict[str, str] = {}
    for column, names in by_column.items():
        exact = [name for name in names if (match := matches[name]) is not None and match.exact]
        best = exact if len(exact) == 1 else names
        if len(best) > 1:
            raise SourceError(
                f"{source.source}: table {source.table}: headers {_listed(names)} all mean {column}; "
                f"keep one, or rename the others"
            )
        chosen[column] = best[0]
    order = [column.name for column in TABLES[source.table]]
    return {column: chosen[column] for column in sorted(chosen, key=order.index)}


def _refuse_missing(source: SourceTable, present: set[str]) -> None:
    needs = [column.name for column in TABLES[source.table] if column.required or column.header_needed]
    missing = [f"column {name}" for name in needs if name not in present]
    if source.table == "drains":
        if not present & {"oil_hours", "meter_hours"}:
            missing.append("column oil_hours or meter_hours")
        ratings = [channel.rating for channel in CHANNELS]
        if not present.intersection(ratings):
            missing.append(f"column {' or '.join(ratings)}")
    if missing:
        headers = _listed(source.typed_headers)
        raise SourceError(
            f"{source.source}: table {source.table}: {', '.join(missing)} missing; found the headers {headers}; "
            f"add it or rename a header"
        )


def _left_out(table: str, name: str, *, header: str, match: MatchedHeader | None) -> pl.DataFrame:
    if match is not None:
        message = f"column '{name}' is not used: another header is {match.column} itself"
        return file_finding(match.column, name, kind="asked", message=message)
    bracket = _BRACKET.search(header)
    base = COLUMN_OF_HEADER[table].get(squashed_header(_BRACKET.sub(" ", header))) if bracket else None
    if bracket is not None and base is not None:
        message = f"column '{name}' is not used: '{bracket['inside']}' is no unit for {base}"
        return file_finding(base, name, kind="asked", message=message)
    return file_finding(None, name, kind="note", message=f"column '{name}' is not known and is not used")


def _no_unit(table: str, column: str, *, name: str, match: MatchedHeader | None) -> pl.DataFrame:
    """A note where the header of a volume or a time names no unit."""
    definition = column_of(table, column)
    silent = definition.kind in ("volume", "standing time", "oil age") and match is not None and not match.exact
    key = squashed_header(name)
    if not silent or _unit(match) is not None or any(word in key for word in ("hour", "hrs", "days")):
        return joined_findings([])
    message = f"header '{name}' names no unit: cells without one are read as {definition.unit}"
    return file_finding(column, name, kind="note", message=message)


def _unit(match: MatchedHeader | None) -> str | None:
    return match.unit if match is not None else None


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)
