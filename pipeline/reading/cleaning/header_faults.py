"""Why a file's headers cannot be used: two for one column, one for two columns, or a column that is missing."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Sequence

import polars as pl

from draincurve.pipeline.reading.cleaning.header_meaning import match_header
from draincurve.pipeline.reading.cleaning.header_suggestions import header_setting, may_be, suggested_headers
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
_FEWEST_TITLES = 2
"""Lines with one cell, from which they may name the unit of the rows below."""
_BETWEEN_NAMES = re.compile(r"\s*[/&+,;|]\s*|\s(?:and|und|et|y|e)\s", re.IGNORECASE)
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
    times = Counter(header for _, headers in suggested for header in headers)
    lines, short, settings = [], [], []
    for names, (name, headers) in zip(missing, suggested, strict=True):
        line = brief = f"column {' or '.join(names)} missing"
        likely = [header for header in headers if times[header] == 1]
        if likely:
            asks = f"is it {' or '.join(quoted_names([header]) for header in likely)}?"
            answers = [toml_text([header]) for header in likely]
            line += f" ({asks} then write in the settings [headers] {name} = {' or '.join(answers)})"
            brief += f" ({asks})"
            settings += [f"{'# ' if len(likely) > 1 else ''}{name} = {answer}" for answer in answers]
        else:
            settings.append(f"# {names[0]} = {toml_text(['...'])}  # your own header for it")
        lines.append(line)
        short.append(brief)
    unread = "".join(f"; {note}" for note in source.notes if note.startswith(HEADER_IN))
    to_do = unread or _to_do(source, several, present)
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
) -> tuple[str, Sequence[str]]:
    """A column among the missing ones, and the headers of which one is likely its own; only : no other is missing."""
    for name in names:
        headers = suggested_headers(source, name, unknown=unknown)
        if not headers:
            alone = only and len(unknown) == len(names) == 1 and may_be(source, name, unknown[0])
            machines = _machines(source) if name == "unit_id" else ()
            headers = (*machines, *((unknown[0][1],) if alone else ()))
        if headers:
            return name, headers
    return names[0], ()


def _machines(source: SourceTable) -> tuple[str, ...]:
    """The header of machines, if there is one: where each has one unit, or one on each side, it names the unit."""
    matches = ((header, match_header(header, source.table)) for header in source.typed_headers)
    return tuple(header for header, match in matches if match is not None and match.column == "machine")[:1]


def _names_several(header: str, table: str) -> bool:
    """Whether a header is made of the names of two columns, such as Colour/Debris."""
    parts = _BETWEEN_NAMES.split(header)
    named = [columns_of_header(part, table) for part in parts]
    return len(parts) > 1 and all(named) and len({columns[:1] for columns in named}) == len(parts)


def _may_be_one(header: str) -> bool:
    return len(header_words(header)) <= _MOST_WORDS


def _lone_lines(source: SourceTable) -> int:
    """Lines inside a table, and above its header, that have one cell."""
    cells = [pl.col(name).cast(pl.String).str.strip_chars().fill_null("") != "" for name in source.cell_columns]
    inside = int(source.frame.select((pl.sum_horizontal(cells) == 1).sum()).item())
    return inside + sum(len(line.cells) == 1 for line in source.beside if not line.hidden)


def _to_do(source: SourceTable, several: Sequence[str], present: Collection[str]) -> str:
    first = source.frame.get_column(source.cell_columns[0]).cast(pl.String).drop_nulls().head(2 * _MOST_WORDS)
    below = {match.column for cell in first if (match := match_header(cell, source.table)) is not None}
    if len(below) >= _FEWEST_BELOW:
        return "; the first column names the columns: turn the table, so that each drain is a row"
    if "unit_id" not in present and _lone_lines(source) >= _FEWEST_TITLES:
        return (
            "; if lines with one cell name the unit of the rows below, write it into a column of its own in each row"
        )
    if several:
        return f"; {quoted_names(several)} names two columns: give each a column of its own"
    return "; rename a header, or give it in a settings file: --settings FILE.toml"


def quoted_names(names: Iterable[str]) -> str:
    """Names in quotation marks, long ones cut; of many the first, and how many more."""
    every = list(names)
    shown = [f"'{name if len(name) <= _LONGEST_LISTED else f'{name[:_LONGEST_LISTED]}…'}'" for name in every]
    more = f" and {len(every) - MOST_LISTED} more" if len(every) > MOST_LISTED else ""
    return f"{', '.join(shown[:MOST_LISTED])}{more}"
