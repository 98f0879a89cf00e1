"""The columns of a file under the contract's names: one header for each, by its meaning or by the settings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import polars as pl

from draincurve.pipeline.reading.cleaning.columns_by_cells import (
    ByCells,
    columns_by_cells,
    is_minutes,
    with_columns_joined,
)
from draincurve.pipeline.reading.cleaning.header_faults import (
    quoted_names,
    refuse_missing,
    several_columns,
    several_headers,
)
from draincurve.pipeline.reading.cleaning.header_meaning import (
    GivenHeaders,
    MatchedHeader,
    bracketed_column,
    match_header,
)
from draincurve.pipeline.reading.cleaning.header_suggestions import (
    MOST_COMPARED,
    header_setting,
    mostly_of_kind,
    suggested_column,
)
from draincurve.pipeline.reading.cleaning.header_synonyms import header_words
from draincurve.pipeline.reading.cleaning.unit_line import headers_with_units
from draincurve.pipeline.reading.cleaning.working_table import FindingKind, file_finding, joined_findings
from draincurve.pipeline.reading.sources.source_table import LINE, SourceTable
from draincurve.schemas.columns import FREE_TEXT, TABLES, column_of

_UNIT_WORDS = frozenset(("hour", "hours", "hrs", "stunden", "heures", "horas", "ore", "days", "tage", "jours"))


@dataclass(frozen=True, slots=True)
class MatchedTable:
    """A table under the contract's names.

    frame : `_row` (from 0), `_line`, and the cells as typed of each column that the file has
    columns : column of each header that is used, by the header's name in the source's frame
    units : units in headers, by column. date_orders : orders of day and month in headers, by column
    findings : about headers, so about the whole file. without_unit : header of each column of volumes or times that
        names no unit. has_unit_line : whether the first row is a second line of the header
    """

    table: str
    frame: pl.DataFrame
    columns: Mapping[str, str]
    units: Mapping[str, str]
    date_orders: Mapping[str, str]
    findings: pl.DataFrame
    without_unit: Mapping[str, str] = field(default_factory=dict)
    has_unit_line: bool = False


@dataclass(frozen=True, slots=True)
class _Choice:
    """Positions of the headers of each column, in the contract's order, and of those chosen among several columns."""

    positions: Mapping[str, tuple[int, ...]]
    by_elimination: frozenset[int]


def matched_table(source: SourceTable, given: GivenHeaders | None = None) -> MatchedTable:
    """The table under the contract's names. Unknown columns are left out, with a finding that names them.

    given : the settings' headers. Raises HeaderError where two headers mean one column, where one may mean two, and
    where a column is missing that every row needs.
    """
    names, headers = source.cell_columns, source.typed_headers
    with_units = headers_with_units(source, given)
    matches = [
        None if _is_dated_volume(match, source.table, cells=source.frame.get_column(name)) else match
        for match, name in zip(_matches(with_units or headers, source.table, given), names, strict=True)
    ]
    where = f"{source.source}: table {source.table}"
    choice = _chosen(headers, source.table, matches=matches, where=where)
    used = {position: column for column, positions in choice.positions.items() for position in positions}
    unknown = [(names[position], headers[position]) for position in range(len(names)) if position not in used]
    shown = [header.strip() or name for header, name in zip(headers, names, strict=True)]
    refuse_missing(source, set(choice.positions), unknown=unknown, where=where)
    columns = {names[position]: column for position, column in used.items()}
    by_cells = columns_by_cells(source, columns)
    unit = next((name for name, column in columns.items() if column == "unit_id"), None)
    cells = with_columns_joined(source.frame, by_cells, unit=unit)
    frame = cells.with_row_index("_row").select(
        "_row",
        LINE,
        *[_cells(column, [names[position] for position in spots]) for column, spots in choice.positions.items()],
    )
    firsts = {column: matches[spots[0]] for column, spots in choice.positions.items()}
    matched = {column: match for column, match in firsts.items() if match is not None}
    without_unit = {
        column: header
        for column, match in matched.items()
        if _has_no_unit(source.table, match, header := shown[choice.positions[column][0]])
    }
    findings = [
        *_left_out(source.table, shown, matches=matches, choice=choice, by_cells=by_cells, names=names),
        *by_cells.findings,
        *(_no_unit(source.table, column, header=header) for column, header in without_unit.items()),
    ]
    units = {column: match.unit for column, match in matched.items() if match.unit is not None}
    orders = {column: match.date_order for column, match in matched.items() if match.date_order is not None}
    return MatchedTable(
        source.table, frame, columns, units, orders, joined_findings(findings), without_unit, with_units is not None
    )


def header_positions(headers: Sequence[str], table: str, given: GivenHeaders | None = None) -> dict[str, int]:
    """Position of the header of each column, chosen as when the log is read. Raises HeaderError as matched_table."""
    matches = _matches(headers, table, given)
    choice = _chosen(headers, table, matches=matches, where=f"table {table}")
    return {column: positions[0] for column, positions in choice.positions.items()}


def _matches(headers: Sequence[str], table: str, given: GivenHeaders | None) -> list[MatchedHeader | None]:
    """What each header means. Mere minutes beside hours may be a part of them, so their cells have to tell."""
    matches = [match_header(header, table, given) for header in headers]
    times = Counter(match.column for match in matches if match is not None)
    return [
        None if match is not None and times[match.column] > 1 and is_minutes(header) and not match.given else match
        for header, match in zip(headers, matches, strict=True)
    ]


def _is_dated_volume(match: MatchedHeader | None, table: str, *, cells: pl.Series) -> bool:
    """Whether the cells below a word that may mean a volume, such as "drained", are dates."""
    if match is None or match.exact or match.given or match.unit is not None:
        return False
    return column_of(table, match.column).kind == "volume" and mostly_of_kind(cells, "date")


def _chosen(headers: Sequence[str], table: str, *, matches: Sequence[MatchedHeader | None], where: str) -> _Choice:
    """The header of each column: the one that the settings give, else the contract's own name, else a synonym.

    A synonym of several columns is that of the only one that has no other header.
    """
    matched = {position: match for position, match in enumerate(matches) if match is not None}
    chosen: dict[str, tuple[int, ...]] = {}
    for rank in (
        [at for at, match in matched.items() if match.given],
        [at for at, match in matched.items() if match.exact and not match.given],
        [at for at, match in matched.items() if not (match.exact or match.given or match.others)],
    ):
        by_column: dict[str, list[int]] = {}
        for at in rank:
            if matched[at].column not in chosen:
                by_column.setdefault(matched[at].column, []).append(at)
        for column, spots in by_column.items():
            if len(spots) > 1 and column not in FREE_TEXT:
                raise several_headers(column, [headers[at] for at in spots], every=headers, where=where)
            chosen[column] = tuple(spots)
    eliminated: list[int] = []
    for at, match in matched.items():
        if match.others and not (match.exact or match.given):
            free = [column for column in match.columns if column not in chosen]
            if len(free) > 1:
                raise several_columns(free, headers[at], where=where)
            if free:
                chosen[free[0]] = (at,)
                eliminated.append(at)
    order = [column.name for column in TABLES[table]]
    return _Choice({name: chosen[name] for name in sorted(chosen, key=order.index)}, frozenset(eliminated))


def _cells(column: str, names: Sequence[str]) -> pl.Expr:
    if len(names) == 1:
        return pl.col(names[0]).alias(column)
    cells = [pl.col(name).cast(pl.String) for name in names]
    return pl.concat_str(cells, separator="; ", ignore_nulls=True).replace("", None).alias(column)


def _left_out(
    table: str,
    headers: Sequence[str],
    *,
    matches: Sequence[MatchedHeader | None],
    choice: _Choice,
    by_cells: ByCells,
    names: Sequence[str],
) -> Iterable[pl.DataFrame]:
    """Findings about headers that are not used, that are one of several, and that could have meant another column.

    names : of the columns in the frame. by_cells : what the cells say of those that are not used
    """
    used = {position for positions in choice.positions.values() for position in positions}
    not_known: list[tuple[str, str]] = []
    for position, (header, match) in enumerate(zip(headers, matches, strict=True)):
        if position in choice.by_elimination and match is not None:
            column = next(name for name, positions in choice.positions.items() if position in positions)
            message = f"header '{header}' is read as {column}; it may also mean {' or '.join(match.columns)}"
            yield file_finding(column, header, kind="asked", message=message, setting=header_setting(column, header))
        elif position not in used and match is not None:
            spots = choice.positions.get(match.column, ())
            other = headers[spots[0]] if spots else ""
            given = bool(spots) and (chosen := matches[spots[0]]) is not None and chosen.given
            why = f"'{other}' is {match.column} {'by the settings' if given else 'itself'}"
            message = f"column '{header}' is not used: {why}"
            kind: FindingKind = "note" if given else "asked"
            setting = None if given else header_setting(match.column, other)
            yield file_finding(match.column, header, kind=kind, message=message, setting=setting)
        elif position not in used and names[position] not in by_cells.explained:
            not_known.append((names[position], header))
    for column, positions in choice.positions.items():
        if len(positions) > 1:
            message = f"columns {quoted_names(headers[position] for position in positions)} are joined"
            yield file_finding(column, None, kind="note", message=message)
    yield from (
        _unknown(table, header, present=choice.positions, rating=by_cells.ratings.get(name))
        for name, header in not_known[:MOST_COMPARED]
    )
    more = len(not_known) - MOST_COMPARED
    if more > 0:
        yield file_finding(None, None, kind="note", message=f"{more} more columns are not known and are not used")


def _unknown(table: str, header: str, *, present: Iterable[str], rating: str | None) -> pl.DataFrame:
    bracketed = bracketed_column(header, table)
    if bracketed is not None:
        column, inside = bracketed
        message = f"column '{header}' is not used: '{inside}' names something else than {column}"
        return file_finding(column, header, kind="asked", message=message)
    free = {column.name for column in TABLES[table]}.difference(present)
    near = suggested_column(header, table, among=free) or rating
    message = f"column '{header}' is not known and is not used"
    if near is None:
        return file_finding(None, header, kind="note", message=message)
    setting = header_setting(near, header)
    return file_finding(near, header, kind="asked", message=f"{message}: is it {near}?", setting=setting)


def _has_no_unit(table: str, match: MatchedHeader, header: str) -> bool:
    """Whether the header of a volume or a time names no unit."""
    of_a_kind = column_of(table, match.column).kind in ("volume", "settling time", "oil age")
    return of_a_kind and not match.exact and match.unit is None and _UNIT_WORDS.isdisjoint(header_words(header))


def _no_unit(table: str, column: str, *, header: str) -> pl.DataFrame:
    unit = column_of(table, column).unit
    message = f"header '{header}' names no unit: cells without one are read as {unit}"
    return file_finding(column, header, kind="note", message=message)
