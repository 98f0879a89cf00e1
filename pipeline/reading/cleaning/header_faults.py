"""Why a file's headers cannot be used: two for one column, one for two columns, or a column that is missing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import polars as pl

from draincurve.pipeline.reading.cleaning.header_meaning import match_header
from draincurve.pipeline.reading.cleaning.header_suggestions import header_setting, suggested_header
from draincurve.pipeline.reading.cleaning.header_synonyms import columns_of_header, header_words
from draincurve.pipeline.reading.sources.source_table import HEADER_IN, SourceTable
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.checked_settings import toml_text
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import HeaderError

MOST_LISTED = 12
"""Headers that an error names; the others are counted."""
_LONGEST_LISTED = 40
_FEWEST_TWICE = 3
"""Headers that are there twice, from which two tables stand side by side."""
_FEWEST_BELOW = 4
"""Columns that the first column names, from which a table is turned."""
_MOST_WORDS = 8
"""Words of a header; a longer one is a row of something else."""


def several_columns(columns: Sequence[str], header: str, *, where: str) -> HeaderError:
    """The fault of a header that may be one of several columns."""
    answers = [f"{column} = {toml_text([header])}" for column in columns]
    return HeaderError(
        where,
        f"header '{header}' may be {' or '.join(columns)}; say which in the settings: "
        f"[headers] {' or '.join(answers)}",
        setting="\n".join(("[headers]", "# Keep one of these lines:", *(f"# {answer}" for answer in answers))),
    )


def several_headers(column: str, headers: Sequence[str], *, every: Sequence[str], where: str) -> HeaderError:
    """The fault of several headers of one column; every : all headers of the table."""
    fault = f"headers {quoted_names(headers)} all mean {column}"
    if len(set(headers)) < len(headers):
        twice = [header for header, times in Counter(every).items() if times > 1 and header.strip()]
        if len(twice) >= _FEWEST_TWICE:
            return HeaderError(where, f"{fault}; do two tables stand side by side? Put the second below the first")
        return HeaderError(where, f"{fault}; keep one, and rename or delete the others")
    answer = f"rename the others, or say which it is in the settings: [headers] {column} = {toml_text(headers[:1])}"
    return HeaderError(where, f"{fault}; {answer}", setting=header_setting(column, headers[0]))


def refuse_missing(source: SourceTable, present: set[str], *, unknown: Sequence[tuple[str, str]], where: str) -> None:
    """Raise HeaderError for a table without a column that every row needs.

    present : columns that the headers name. unknown : name in the frame and header of the other columns
    """
    missing = _missing(source, present)
    if not missing:
        return
    several = [header for _, header in unknown if _names_several(header, source.table)]
    alone = [(name, header) for name, header in unknown if header not in several and _may_be_one(header)]
    suggested = [_suggestion(source, names, unknown=alone, only=len(missing) == 1) for names in missing]
    times = Counter(header for _, header in suggested)
    lines, short, settings = [], [], []
    for names, (name, header) in zip(missing, suggested, strict=True):
        line = brief = f"column {' or '.join(names)} missing"
        if header is not None and times[header] == 1:
            line += f" (is it '{header}'? then write in the settings [headers] {name} = {toml_text([header])})"
            brief += f" (is it '{header}'?)"
            settings.append(f"{name} = {toml_text([header])}")
        else:
            settings.append(f"# {names[0]} = {toml_text(['...'])}  # your own header for it")
        lines.append(line)
        short.append(brief)
    unread = "".join(f"; {note}" for note in source.notes if note.startswith(HEADER_IN))
    to_do = unread or _to_do(source, several)
    raise HeaderError(
        where,
        f"{', '.join(short)}{unread}",
        at_length=f"{', '.join(lines)}; found the headers {quoted_names(source.typed_headers)}{to_do}",
        setting="\n".join(("[headers]", *settings)),
    )


def _missing(source: SourceTable, present: set[str]) -> list[tuple[str, ...]]:
    """The columns that are missing, each with those that would do as well."""
    missing: list[tuple[str, ...]] = [
        (column.name,)
        for column in TABLES[source.table]
        if (column.required or column.header_needed) and column.name not in present
    ]
    if source.table == "drains":
        ratings = tuple(channel.rating for channel in CHANNELS)
        missing += [any_of for any_of in (("oil_hours", "meter_hours"), ratings) if not present.intersection(any_of)]
    return missing


def _suggestion(
    source: SourceTable, names: Sequence[str], *, unknown: Sequence[tuple[str, str]], only: bool
) -> tuple[str, str | None]:
    """A column among the missing ones, and the header that is likely its own; only : whether no other is missing."""
    for name in names:
        header = suggested_header(source, name, unknown=unknown)
        if header is None and only and len(unknown) == len(names) == 1:
            header = unknown[0][1]
        if header is not None:
            return name, header
    return names[0], None


def _names_several(header: str, table: str) -> bool:
    """Whether a header is made of the names of two columns, such as Colour/Debris."""
    words = header_words(header)
    named = [columns_of_header(word, table) for word in words]
    return len(words) > 1 and all(named) and len({columns[:1] for columns in named}) == len(words)


def _may_be_one(header: str) -> bool:
    return len(header_words(header)) <= _MOST_WORDS


def _to_do(source: SourceTable, several: Sequence[str]) -> str:
    first = source.frame.get_column(source.cell_columns[0]).cast(pl.String).drop_nulls().head(2 * _MOST_WORDS)
    below = {match.column for cell in first if (match := match_header(cell, source.table)) is not None}
    if len(below) >= _FEWEST_BELOW:
        return "; the first column names the columns: turn the table, so that each drain is a row"
    if several:
        return f"; {quoted_names(several)} names two columns: give each a column of its own"
    return "; rename a header, or name your own in a settings file (--settings)"


def quoted_names(names: Iterable[str]) -> str:
    """Names in quotation marks, long ones cut; of many the first, and how many more."""
    every = list(names)
    shown = [f"'{name if len(name) <= _LONGEST_LISTED else f'{name[:_LONGEST_LISTED]}…'}'" for name in every]
    more = f" and {len(every) - MOST_LISTED} more" if len(every) > MOST_LISTED else ""
    return f"{', '.join(shown[:MOST_LISTED])}{more}"
