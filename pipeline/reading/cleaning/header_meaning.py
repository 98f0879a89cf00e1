"""What one header means: the contract's column, with the unit or the order of dates that the header names."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from draincurve.pipeline.reading.cleaning.header_brackets import is_another_column
from draincurve.pipeline.reading.cleaning.header_synonyms import (
    COLUMNS_OF_HEADER,
    columns_of_header,
    header_words,
    squashed_header,
)
from draincurve.pipeline.reading.cleaning.hours_headers import hours_columns
from draincurve.pipeline.reading.cleaning.quantity_names import measured_header
from draincurve.pipeline.reading.cleaning.units_of_measurement import TARGETS, fits, is_unit
from draincurve.schemas.columns import TABLES, Column, column_of
from draincurve.schemas.settings import Settings

GivenHeaders = Mapping[str, Sequence[str]]
"""Headers from the settings, by column."""

LONGEST_HEADER = 120
"""A longer cell is text, not a header [characters]."""

SCALE_TO = r"-|–|—|\.{2,3}|to|bis|à|a|hasta"
SCALE_OF = r"/|(?:out )?of|von|sur|de|su"
"""What stands between both ends of a scale, and before its upper one."""
_SCALE_BEHIND = re.compile(rf"[\s,:]*(?:\d{{1,3}}\s*(?:{SCALE_TO})|(?:{SCALE_OF}))\s*\d{{1,3}}\s*", re.IGNORECASE)
_BRACKET = re.compile(r"[(\[{<](?P<inside>[^)\]}>]*)[)\]}>]")
_HOURS_AND_MINUTES = re.compile(
    r"(?<!\w)(?P<hours>h{1,3}|hrs?|hours?|std|stunden|heures?|horas?|ore?)\s*[:/.]\s*(?:mm?|min(?:s|ut\w+)?)(?!\w)",
    re.IGNORECASE,
)
_HOURS_FOR = {"minutes": "hours", "mins": "hours", "minuten": "stunden", "minutos": "horas", "minuti": "ore"}
_MINUTES = re.compile(f"(?:{'|'.join(_HOURS_FOR)})$")
_DATE_ORDERS = {
    re.compile(r"[dtg]+m+[yaj]+|j+m+a+"): "day first",
    re.compile(r"m+[dtg]+[yaj]+"): "month first",
    re.compile(r"[yaj]+m+[dtg]+|a+m+j+"): "year first",
}
"""Letters for day, month and year in five languages, such as TT.MM.JJJJ and jj/mm/aaaa."""


@dataclass(frozen=True, slots=True)
class MatchedHeader:
    """The column that a header means, with its unit and the order of day and month, where it names them.

    exact : the header is the contract's own name, not a synonym
    given : the settings say what it means
    others : further columns that it may mean as well
    """

    column: str
    unit: str | None = None
    date_order: str | None = None
    exact: bool = False
    given: bool = False
    others: tuple[str, ...] = ()

    @property
    def columns(self) -> tuple[str, ...]:
        """Every column that it may mean."""
        return (self.column, *self.others)


def match_header(header: str, table: str, given: GivenHeaders | None = None) -> MatchedHeader | None:
    """The column that a header means, or None. "Drained (cc)", "ride time min" and "Oil hours [h]" name units.

    given : the settings' headers, which come before all others
    """
    if len(header) > LONGEST_HEADER:
        return None
    given_column = _given_column(header, table, given=given) if given else None
    if given_column is not None:
        match = _with_unit_of(header, column_of(table, given_column)) or MatchedHeader(given_column)
        return replace(match, given=True)
    known = _known_header(header, table)
    is_share = known is not None and "%" in header and column_of(table, known.column).kind == "rating"
    return None if is_share else known


@lru_cache(maxsize=4096)
def _known_header(header: str, table: str) -> MatchedHeader | None:
    """What a header means by the program's own words; kept, since every delimiter is tried on the same cells."""
    columns = COLUMNS_OF_HEADER[table].get(squashed_header(header), ())
    if not columns:
        header = _HOURS_AND_MINUTES.sub(lambda found: found["hours"], header)
    base, inside = _without_bracket(header)
    if not columns and inside is not None:
        named = _hours_on(base, inside, table) or columns_of_header(base, table)
        return _joined([_with_bracket(column_of(table, name), inside, header=base) for name in named])
    if not columns and (with_unit := _with_trailing_unit(header, table)) is not None:
        return with_unit
    columns = columns or columns_of_header(header, table) or _rating_with_scale(header, table)
    if not columns:
        return _in_minutes(header, table)
    exact = squashed_header(header) == squashed_header(columns[0])
    return MatchedHeader(columns[0], exact=exact, others=columns[1:])


def says_hours_and_minutes(header: str) -> bool:
    """Whether a header says that 12.30 below it is 12:30: Hours (h:mm), Std/Min."""
    return _HOURS_AND_MINUTES.search(header) is not None


def header_columns(settings: Settings) -> Callable[[Sequence[str], str], Sequence[str | None]]:
    """A function that finds the header row of a file: the column that each cell of a row names, or None."""

    def columns_of(cells: Sequence[str], table: str) -> list[str | None]:
        matches = [match_header(cell, table, settings.headers) for cell in cells]
        columns = [None if match is None else match.column for match in matches]
        if table == "measurements":  # a laboratory's table has a column for each quantity
            measured = (measured_header(cell, settings) for cell in cells)
            columns = [column or quantity for column, quantity in zip(columns, measured, strict=True)]
        return columns

    return columns_of


def _given_column(header: str, table: str, *, given: GivenHeaders) -> str | None:
    """The column for which the settings name this header, with or without a unit behind it."""
    names = {column.name for column in TABLES[table]}
    wanted = {
        squashed_header(spelling): column
        for column, several in given.items()
        if column in names
        for spelling in several
    }
    if not wanted:
        return None
    words = _words_of(header)
    for text in (header, _without_bracket(header)[0], " ".join(words[:-1]), " ".join(words[:-2])):
        if squashed_header(text) in wanted:
            return wanted[squashed_header(text)]
    return None


def _with_unit_of(header: str, column: Column) -> MatchedHeader | None:
    """A given header with the unit in brackets or behind it."""
    base, inside = _without_bracket(header)
    if inside is not None:
        return _with_bracket(column, inside, header=base)
    words = _words_of(header)
    unit = next((" ".join(words[-count:]) for count in (1, 2) if len(words) > count), None)
    return MatchedHeader(column.name, unit) if unit is not None and fits(unit, column.kind) else None


def _without_bracket(header: str) -> tuple[str, str | None]:
    """A header without what it has in brackets, and that."""
    bracket = _BRACKET.search(header)
    return (header, None) if bracket is None else (_BRACKET.sub(" ", header), bracket["inside"])


def _hours_on(base: str, inside: str, table: str) -> tuple[str, ...]:
    """The columns of hours on what stands in the bracket: Hours (spring), Hours (bike)."""
    kinds = {column_of(table, name).kind for name in columns_of_header(base, table)}
    return hours_columns(header_words(f"{base} {inside}"), table) if kinds == {"run hours"} else ()


def bracket_of(header: str) -> str:
    """What a header has in brackets, empty where it has none."""
    return _without_bracket(header)[1] or ""


def bracketed_column(header: str, table: str) -> tuple[str, str] | None:
    """The column and the bracket of a header whose bracket does not fit its column."""
    base, inside = _without_bracket(header)
    columns = columns_of_header(base, table) if inside is not None else ()
    return (columns[0], inside) if columns and inside is not None else None


def _with_bracket(column: Column, inside: str, *, header: str) -> MatchedHeader | None:
    """A unit or an order of dates in brackets; anything else is a comment, or names another column's cells."""
    exact = squashed_header(header) == squashed_header(column.name)
    if column.kind in TARGETS and is_unit(inside):
        return MatchedHeader(column.name, inside, None, exact) if fits(inside, column.kind) else None
    if is_another_column(inside, column.kind):
        return None
    letters = re.sub(r"[^a-z]", "", inside.casefold())
    order = next((order for pattern, order in _DATE_ORDERS.items() if pattern.fullmatch(letters)), None)
    return MatchedHeader(column.name, None, order if column.kind == "date" else None, exact)


def _with_trailing_unit(header: str, table: str) -> MatchedHeader | None:
    """The last one or two words may be a unit that fits the column: drained cc, settle min, filled fl oz."""
    words = _words_of(header)
    for count in (1, 2):
        base, unit = " ".join(words[:-count]), " ".join(words[-count:])
        fitting = [name for name in columns_of_header(base, table) if fits(unit, column_of(table, name).kind)]
        if fitting:
            exact = squashed_header(base) == squashed_header(fitting[0])
            return MatchedHeader(fitting[0], unit, None, exact, others=tuple(fitting[1:]))
    return None


def _in_minutes(header: str, table: str) -> MatchedHeader | None:
    """A header that would name hours if it did not say minutes: Betriebsminuten, oil minutes, minuti olio."""
    words = [_MINUTES.sub(lambda found: _HOURS_FOR[found[0]], word) for word in header_words(header)]
    columns = columns_of_header(" ".join(words), table) if words != header_words(header) else ()
    times = tuple(name for name in columns if column_of(table, name).kind in ("run hours", "settling time"))
    return MatchedHeader(times[0], "min", others=times[1:]) if times else None


def _rating_with_scale(header: str, table: str) -> tuple[str, ...]:
    """The ratings that a header with its scale behind it may mean: colour 1-5, debris /10."""
    scale = next((match for match in _SCALE_BEHIND.finditer(header) if match.end() == len(header)), None)
    columns = () if scale is None else columns_of_header(header[: scale.start()], table)
    return tuple(name for name in columns if column_of(table, name).kind == "rating")


def _words_of(header: str) -> list[str]:
    return [word for word in re.split(r"[\s_,;:/\-()\[\].]+", header) if word]


def _joined(matches: Sequence[MatchedHeader | None]) -> MatchedHeader | None:
    """One match for all columns that a header may mean."""
    matched = [match for match in matches if match is not None]
    return replace(matched[0], others=tuple(match.column for match in matched[1:])) if matched else None
