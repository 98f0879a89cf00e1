"""Which unknown header may be meant for a column that a log lacks: by its letters, or else by the cells below it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from difflib import SequenceMatcher

import polars as pl

from draincurve.pipeline.reading.cleaning.date_cells import read_dates
from draincurve.pipeline.reading.cleaning.header_brackets import is_another_column, is_to_come
from draincurve.pipeline.reading.cleaning.header_meaning import bracket_of
from draincurve.pipeline.reading.cleaning.header_synonyms import header_words, squashed_header, synonyms
from draincurve.pipeline.reading.cleaning.unit_sides import holds_sides
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.checked_settings import toml_text
from draincurve.schemas.columns import column_of

LEAST_SIMILARITY = 0.78
"""Share of letters that two headers must have in common to count as similar."""
AS_LIKELY, MOST_SUGGESTED = 0.3, 3
"""Headers that share a word and whose similarity differs by less are as likely; so many are named."""
SHORTEST_WORD = 4
"""Shorter words are in too many headers [letters]."""
MOST_COMPARED = 50
"""Unknown headers that are compared; a log that is meant to be one has fewer."""
_CELLS = 40
_CLOCK_HEADERS = ("time", "clock", "uhrzeit", "zeit", "heure", "hora", "ora")
_CLOCK_TIME = r"^\s*(?:[01]?\d|2[0-3]):[0-5]\d(?::[0-5]\d)?\s*$"
_MOSTLY = 0.8


def header_setting(column: str, header: str) -> str:
    """Lines for the settings that say what a header means."""
    return f"[headers]\n{column} = {toml_text([header])}"


def suggested_column(header: str, table: str, *, among: Iterable[str]) -> str | None:
    """The column whose own name or a synonym is most like an unknown header; None where none is like it."""
    wanted, best, most = sorted(among), None, LEAST_SIMILARITY
    matcher = SequenceMatcher(None, "", squashed_header(header))
    for column, word in (*((name, name) for name in wanted), *synonyms(table)):
        if column in wanted:
            matcher.set_seq1(squashed_header(word))
            if min(matcher.real_quick_ratio(), matcher.quick_ratio()) > most and matcher.ratio() > most:
                best, most = column, matcher.ratio()
    return best


def suggested_headers(source: SourceTable, column: str, *, unknown: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """The unknown headers of which one most likely belongs to a missing column; several where they are as likely.

    unknown : name in the frame, and header as typed. A word that the two have in common counts, then letters, then
    cells that are mostly dates or ratings. What surely holds something else is left out.
    """
    unknown = [one for one in unknown if may_be(source, column, one)]
    known = [column, *(word for name, word in synonyms(source.table) if name == column)]
    words = {word for text in known for word in header_words(text) if len(word) >= SHORTEST_WORD}
    scored = [
        (
            bool(words.intersection(header_words(header))),
            max(_similarity(squashed_header(header), squashed_header(text)) for text in known),
            header,
        )
        for _, header in unknown[:MOST_COMPARED]
    ]
    shared, similarity, best = max(scored, default=(False, 0.0, ""))
    if shared:
        as_likely = (header for one, score, header in scored if one and score >= similarity - AS_LIKELY)
        return tuple(as_likely)[:MOST_SUGGESTED]
    if similarity > LEAST_SIMILARITY:
        return (best,)
    kind = column_of(source.table, column).kind
    cells = ((header, source.frame.get_column(name)) for name, header in unknown[:MOST_COMPARED])
    by_cells = tuple(header for header, below in cells if mostly_of_kind(below, kind))
    return by_cells if len(by_cells) == 1 else ()


def may_be(source: SourceTable, column: str, named: tuple[str, str]) -> bool:
    """Whether an unknown column may be one of the contract's: it does not surely hold something else.

    named : its name in the frame, and its header as typed. "Hours left" and "next service" are to come, "Time" above
    times of day is no duration, and sides are no units
    """
    name, header = named
    kind = column_of(source.table, column).kind
    hours = kind == "run hours"
    if is_to_come(header_words(header), hours=hours) or is_another_column(bracket_of(header), kind):
        return False
    cells = source.frame.get_column(name)
    return not (hours and _is_time_of_day(header, cells)) and not (column == "unit_id" and holds_sides(cells))


def _is_time_of_day(header: str, cells: pl.Series) -> bool:
    """Whether the first cells below a header that says "time" and no more are all times of day."""
    typed = cells.drop_nulls().head(_CELLS).cast(pl.String)
    return squashed_header(header) in _CLOCK_HEADERS and typed.len() > 0 and typed.str.contains(_CLOCK_TIME).all()


def _similarity(a: str, b: str) -> float:
    return SequenceMatcher(None, a, b).ratio() if a and b else 0.0


def mostly_of_kind(cells: pl.Series, kind: str) -> bool:
    """Whether the first cells of a column are mostly dates or ratings."""
    first = cells.drop_nulls().head(_CELLS).cast(pl.String)
    if not first.len() or kind not in ("date", "rating"):
        return False
    if kind == "date":
        fits = first.len() - read_dates(first, "day first", as_of=date.max).frame.get_column("date").null_count()
    else:
        fits = int(first.str.contains(r"^\s*[1-5](\s*-\s*[1-5])?\s*$").sum())
    return fits >= _MOSTLY * first.len()
