"""The columns of a file under the contract's names: one header for each, by its meaning or by the settings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import polars as pl

from draincurve.pipeline.reading.cleaning.header_meaning import (
    GivenHeaders,
    MatchedHeader,
    bracketed_column,
    match_header,
)
from draincurve.pipeline.reading.cleaning.header_suggestions import (
    MOST_COMPARED,
    header_setting,
    suggested_column,
    suggested_header,
)
from draincurve.pipeline.reading.cleaning.header_synonyms import header_words
from draincurve.pipeline.reading.cleaning.working_table import FindingKind, file_finding, joined_findings
from draincurve.pipeline.reading.sources.source_table import HEADER_IN, LINE, SourceTable
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.checked_settings import toml_text
from draincurve.schemas.columns import FREE_TEXT, TABLES, column_of
from draincurve.schemas.errors import HeaderError

MOST_LISTED = 12
"""Headers that an error names; the others are counted."""
_LONGEST_LISTED = 40
_UNIT_WORDS = frozenset(("hour", "hours", "hrs", "stunden", "heures", "horas", "ore", "days", "tage", "jours"))


@dataclass(frozen=True, slots=True)
class MatchedTable:
    """A table under the contract's names.

    frame : `_row` (from 0), `_line`, and the cells as typed of each column that the file has
    columns : column of each header that is used, by the header's name in the source's frame
    units : units in headers, by column. date_orders : orders of day and month in headers, by column
    findings : about headers, so about the whole file. without_unit : header of each column of volumes or times that
        names no unit
    """

    table: str
    frame: pl.DataFrame
    columns: Mapping[str, str]
    units: Mapping[str, str]
    date_orders: Mapping[str, str]
    findings: pl.DataFrame
    without_unit: Mapping[str, str] = field(default_factory=dict)


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
    matches = [match_header(header, source.table, given) for header in headers]
    where = f"{source.source}: table {source.table}"
    choice = _chosen(headers, source.table, matches=matches, where=where)
    used = {position: column for column, positions in choice.positions.items() for position in positions}
    unknown = [(names[position], headers[position]) for position in range(len(names)) if position not in used]
    shown = [header.strip() or name for header, name in zip(headers, names, strict=True)]
    _refuse_missing(source, set(choice.positions), unknown=unknown, where=where)
    frame = source.frame.with_row_index("_row").select(
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
        *_left_out(source, shown, matches=matches, choice=choice, unknown=unknown),
        *(_no_unit(source.table, column, header=header) for column, header in without_unit.items()),
    ]
    units = {column: match.unit for column, match in matched.items() if match.unit is not None}
    orders = {column: match.date_order for column, match in matched.items() if match.date_order is not None}
    columns = {names[position]: column for position, column in used.items()}
    return MatchedTable(source.table, frame, columns, units, orders, joined_findings(findings), without_unit)


def header_positions(headers: Sequence[str], table: str, given: GivenHeaders | None = None) -> dict[str, int]:
    """Position of the header of each column, chosen as when the log is read. Raises HeaderError as matched_table."""
    matches = [match_header(header, table, given) for header in headers]
    choice = _chosen(headers, table, matches=matches, where=f"table {table}")
    return {column: positions[0] for column, positions in choice.positions.items()}


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
                raise _several_headers(column, [headers[at] for at in spots], where=where)
            chosen[column] = tuple(spots)
    eliminated: list[int] = []
    for at, match in matched.items():
        if match.others and not (match.exact or match.given):
            free = [column for column in match.columns if column not in chosen]
            if len(free) > 1:
                raise _several_columns(free, headers[at], where=where)
            if free:
                chosen[free[0]] = (at,)
                eliminated.append(at)
    order = [column.name for column in TABLES[table]]
    return _Choice({name: chosen[name] for name in sorted(chosen, key=order.index)}, frozenset(eliminated))


def _several_columns(columns: Sequence[str], header: str, *, where: str) -> HeaderError:
    answers = [f"{column} = {toml_text([header])}" for column in columns]
    return HeaderError(
        where,
        f"header '{header}' may be {' or '.join(columns)}; say which in the settings: "
        f"[headers] {' or '.join(answers)}",
        setting="\n".join(("[headers]", "# Keep one of these lines:", *(f"# {answer}" for answer in answers))),
    )


def _several_headers(column: str, headers: Sequence[str], *, where: str) -> HeaderError:
    fault = f"headers {_quoted_names(headers)} all mean {column}"
    if len(set(headers)) < len(headers):
        return HeaderError(where, f"{fault}; keep one, and rename or delete the others")
    answer = f"rename the others, or say which it is in the settings: [headers] {column} = {toml_text(headers[:1])}"
    return HeaderError(where, f"{fault}; {answer}", setting=header_setting(column, headers[0]))


def _cells(column: str, names: Sequence[str]) -> pl.Expr:
    if len(names) == 1:
        return pl.col(names[0]).alias(column)
    cells = [pl.col(name).cast(pl.String) for name in names]
    return pl.concat_str(cells, separator="; ", ignore_nulls=True).replace("", None).alias(column)


def _refuse_missing(
    source: SourceTable, present: set[str], *, unknown: Sequence[tuple[str, str]], where: str
) -> None:
    missing: list[tuple[str, ...]] = [
        (column.name,)
        for column in TABLES[source.table]
        if (column.required or column.header_needed) and column.name not in present
    ]
    if source.table == "drains":
        ratings = tuple(channel.rating for channel in CHANNELS)
        missing += [any_of for any_of in (("oil_hours", "meter_hours"), ratings) if not present.intersection(any_of)]
    if not missing:
        return
    lines, short, settings = [], [], []
    for names in missing:
        line = brief = f"column {' or '.join(names)} missing"
        for name in names:
            header = suggested_header(source, name, unknown=unknown)
            if header is None and len(missing) == len(unknown) == len(names) == 1:
                header = unknown[0][1]
            if header is not None:
                line += f" (is it '{header}'? then write in the settings [headers] {name} = {toml_text([header])})"
                brief += f" (is it '{header}'?)"
                settings.append(f"{name} = {toml_text([header])}")
                break
        else:
            settings.append(f"# {names[0]} = {toml_text(['...'])}  # your own header for it")
        lines.append(line)
        short.append(brief)
    unread = "".join(f"; {note}" for note in source.notes if note.startswith(HEADER_IN))
    to_do = unread or "; rename a header, or name your own in a settings file (--settings)"
    raise HeaderError(
        where,
        f"{', '.join(short)}{unread}",
        at_length=f"{', '.join(lines)}; found the headers {_quoted_names(source.typed_headers)}{to_do}",
        setting="\n".join(("[headers]", *settings)),
    )


def _left_out(
    source: SourceTable,
    headers: Sequence[str],
    *,
    matches: Sequence[MatchedHeader | None],
    choice: _Choice,
    unknown: Sequence[tuple[str, str]],
) -> Iterable[pl.DataFrame]:
    """Findings about headers that are not used, that are one of several, and that could have meant another column."""
    table, by_cells = source.table, _ratings_by_cells(source, choice.positions, unknown=unknown)
    used = {position for positions in choice.positions.values() for position in positions}
    not_known: list[str] = []
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
        elif position not in used:
            not_known.append(header)
    for column, positions in choice.positions.items():
        if len(positions) > 1:
            message = f"columns {_quoted_names(headers[position] for position in positions)} are joined"
            yield file_finding(column, None, kind="note", message=message)
    yield from (
        _unknown(table, header, present=choice.positions, by_cells=by_cells) for header in not_known[:MOST_COMPARED]
    )
    more = len(not_known) - MOST_COMPARED
    if more > 0:
        yield file_finding(None, None, kind="note", message=f"{more} more columns are not known and are not used")


def _ratings_by_cells(
    source: SourceTable, present: Iterable[str], *, unknown: Sequence[tuple[str, str]]
) -> dict[str, str]:
    """The rating that each unknown header may be, for a channel that has no header, by the cells below it."""
    if source.table != "drains":
        return {}
    absent = {channel.rating for channel in CHANNELS}.difference(present)
    found = {suggested_header(source, rating, unknown=unknown): rating for rating in sorted(absent)}
    return {header: rating for header, rating in found.items() if header is not None}


def _unknown(table: str, header: str, *, present: Iterable[str], by_cells: Mapping[str, str]) -> pl.DataFrame:
    bracketed = bracketed_column(header, table)
    if bracketed is not None:
        column, inside = bracketed
        message = f"column '{header}' is not used: '{inside}' is no unit for {column}"
        return file_finding(column, header, kind="asked", message=message)
    free = {column.name for column in TABLES[table]}.difference(present)
    near = suggested_column(header, table, among=free) or by_cells.get(header)
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


def _quoted_names(names: Iterable[str]) -> str:
    """Names in quotation marks, long ones cut; of many the first, and how many more."""
    every = list(names)
    shown = [f"'{name if len(name) <= _LONGEST_LISTED else f'{name[:_LONGEST_LISTED]}…'}'" for name in every]
    more = f" and {len(every) - MOST_LISTED} more" if len(every) > MOST_LISTED else ""
    return f"{', '.join(shown[:MOST_LISTED])}{more}"
