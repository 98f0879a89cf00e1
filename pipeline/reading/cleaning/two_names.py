"""Cells that name two units, oils, springs or people, such as "F01/F02" and "Linear 44 -> Stepped 46".

Such a cell is one name only where the shop uses it as one. Any other would become a unit, oil or rider of its own.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import NamedTuple

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, words_setting

WHAT_TO_WRITE = {
    "unit_id": ("units", "write a row for each, or one name if the unit was renamed"),
    "oil_grade": ("oils", "write the one that was drained"),
    "spring_type": ("springs", "write the one in use until this drain"),
}
"""Columns in which a cell is one name: what it names, and what to do about two."""

PEOPLE = {"rider": "riders", "rated_by": "raters"}
"""Columns of people, of whom two may well share a drain: such a row is kept and asked about."""

FEWEST_OF_ONE_NAME = 5
"""A cell that is there so often, and as often as each of its parts alone, is one name."""

_ARROW = re.compile(r"\s*(?:[-=–—]+>|[→⇒➔➜])\s*|\s+>\s+")
_MARK = re.compile(r"\s*(?:[/+&|;=]|(?<!\d),|,(?!\d)|\.\.+|…)\s*|\s+[-–—]\s+|[-–—](?=[^\W\d_])")
_WORD = re.compile(r"\s+(?:and|to|then|or|und|dann|oder|et|puis|ou|y|luego|e|poi|o)\s+", re.IGNORECASE)
_LETTERS_OR_DIGITS = re.compile(r"[^\W\d_]+|\d+")
_NUMBERS_TO = re.compile(
    r"(?P<stem>[^\W\d_]*[ _-]?)(?P<low>\d{1,4})\s*(?:[-–—]+|\.\.+|…|to|through|bis|à|au|al?|hasta)"
    r"\s*(?P<again>(?P=stem))?(?P<high>\d{1,4})",
    re.IGNORECASE,
)
MOST_OF_A_RANGE = 20
"""Units from the first to the last that a cell may name at most."""


class TwoNames(NamedTuple):
    """The names in a cell, each as shown where it is known, and the first of them where an arrow follows it.

    Of units from one to another, such as "F01-F04", they are the ends and all between.
    """

    names: tuple[str, ...]
    before_arrow: str | None


def cells_of_two_names(
    times: Mapping[str, int],
    shown: Callable[[str], str | None],
    *,
    listed: frozenset[str] = frozenset(),
    column: str = "",
) -> dict[str, TwoNames]:
    """Cells that name more than one thing, with a mark or a word between the names, by their spelling.

    times : how often each spelling is there. shown : the spelling shown of a name, None for a name that is nowhere.
    listed : names of a register, which are names whatever they look like. column : of the contract; of people, two
    stay two however often they share a drain, and only of units a cell may name a range.
    """
    cells, people = {}, column in PEOPLE
    for text in times.keys() - listed:
        separator = next((one for one in (_ARROW, _MARK, _WORD) if one.search(text)), None)
        ranged = _units_from_to(text, shown) if column == "unit_id" else ()
        if ranged and times[text] < max(FEWEST_OF_ONE_NAME, *(times.get(name, 0) for name in ranged)):
            cells[text] = TwoNames(ranged, None)
            continue
        parts = [] if separator is None else separator.split(text)
        if len(parts) < 2 or not all(_LETTERS_OR_DIGITS.search(part) for part in parts):
            continue
        whole = [_completed(part, parts[0]) for part in parts]
        names = tuple(shown(one) or one for one in whole)
        known = [times[name] for name in names if name in times and name != text]
        all_known = len(known) == len(names)
        is_one = times[text] >= max([FEWEST_OF_ONE_NAME, *known]) and not (people and all_known)
        rarer = known and times[text] < max(known) and separator is not _WORD
        of_one_shape = all_known or (rarer and len({_shape(name) for name in names}) == 1)
        if len(set(names)) > 1 and not is_one and (of_one_shape or separator is _ARROW):
            cells[text] = TwoNames(names, names[0] if separator is _ARROW else None)
    return dict(sorted(cells.items()))


def with_two_names_held_back(
    working: WorkingTable, column: str, names_by_cell: Mapping[str, TwoNames]
) -> WorkingTable:
    """The table with the rows whose cell names two things held back.

    The setting proposes no value: pasted unread, it would make one name of the cell.
    """
    what, to_do = WHAT_TO_WRITE[column]
    cells = pl.DataFrame(
        [
            (
                text,
                f"{in_one_cell(two.names, what)}: {to_do}",
                two.before_arrow,
                words_setting(column, text, "", remark="one of them, or the whole cell if it is one name"),
            )
            for text, two in names_by_cell.items()
        ],
        schema=dict.fromkeys((column, "_message", "_proposal", "_setting"), pl.String),
        orient="row",
    )
    rows = working.parsed.select("_row", column).join(cells, on=column, maintain_order="left").drop(column)
    finding = working.about_rows(
        rows,
        column,
        kind="held back",
        message=pl.col("_message"),
        proposal=pl.col("_proposal"),
        setting=pl.col("_setting"),
    )
    return working.with_findings(finding)


def in_one_cell(names: tuple[str, ...], what: str) -> str:
    """In words that a cell names several things; what : their kind, in the plural."""
    quoted = [f"'{name}'" for name in names]
    count = "two" if len(names) == 2 else str(len(names))
    return f"{count} {what} in one cell, {', '.join(quoted[:-1])} and {quoted[-1]}"


def _units_from_to(text: str, shown: Callable[[str], str | None]) -> tuple[str, ...]:
    """The units from one to another that a cell names, such as "F01-F04", "F1 to 4"; empty where it names none.

    One of the ends must be known; both where the letters are not there again, or there are none, since "F01-04" and
    "12-3" may be names.
    """
    match = _NUMBERS_TO.fullmatch(text)
    if match is None or not 1 < int(match["high"]) - int(match["low"]) < MOST_OF_A_RANGE:
        return ()
    needed = 1 if match["stem"] and match["again"] else 2
    for width in range(len(match["low"]), len(match["low"]) + 3):  # F1 to F4 may be F01 to F04
        spelt = [f"{match['stem']}{number:0{width}d}" for number in range(int(match["low"]), int(match["high"]) + 1)]
        known = [shown(name) for name in spelt]
        if (known[0] is not None) + (known[-1] is not None) >= needed:
            return tuple(name or one for name, one in zip(known, spelt, strict=True))
    return ()


def _completed(part: str, first: str) -> str:
    """A part that leaves out the beginning of the first one with it: "F02" from F01/02, "Yard B" from Yard A/B."""
    if part is first or not _LETTERS_OR_DIGITS.fullmatch(part):
        return part
    last = list(_LETTERS_OR_DIGITS.finditer(first))[-1]
    if last.group().isdecimal() != part.isdecimal():
        return part
    return part if part.isalpha() and len(part) != len(last.group()) else first[: last.start()] + part


def _shape(name: str) -> str:
    """A name with every run of letters as one letter, and every run of digits as one digit."""
    return _LETTERS_OR_DIGITS.sub(lambda run: "0" if run.group().isdecimal() else "a", name)
