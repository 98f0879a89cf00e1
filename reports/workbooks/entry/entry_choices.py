"""The choices of the drop-downs: the trade's own words, and the names in an existing log."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import polars as pl

from draincurve.schemas.quantities import ISO_CODE, QUANTITIES

LONGEST_CHOICE = 255
"""Characters of a name that a drop-down can return. Source: Microsoft, Excel specifications and limits."""


@dataclass(frozen=True, slots=True)
class ChoiceList:
    """One list that the shop may extend.

    columns : columns of any table that use it.  names : its choices, in order.
    """

    title: str
    columns: tuple[str, ...]
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Choices:
    """All lists; too_long : names too long for a drop-down, which can still be typed."""

    lists: tuple[ChoiceList, ...]
    too_long: tuple[str, ...] = ()

    def of(self, column: str) -> ChoiceList | None:
        """The list of a column; None if it has none."""
        return next((choice for choice in self.lists if column in choice.columns), None)


_LISTS: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = (
    ("units", ("unit_id",), ()),
    ("oils", ("oil_grade",), ()),
    ("springs", ("spring_type",), ()),
    ("riders", ("rider",), ()),
    ("raters", ("rated_by",), ()),
    ("surfaces", ("surface",), ()),
    ("sites", ("site",), ()),
    ("machines", ("machine",), ()),
    ("positions", ("position",), ("front", "rear", "left", "right")),
    ("chambers", ("chamber",), ("inner", "outer", "single")),
    ("drain_methods", ("drain_method",), ("poured", "pumped through", "stripped")),
    ("quantities", ("quantity",), (*(quantity.name for quantity in QUANTITIES), ISO_CODE)),
    ("reading_units", ("unit",), tuple(dict.fromkeys(quantity.unit for quantity in QUANTITIES))),
)
"""Title, columns that use the list, and the words that it has without any log."""


def choices(accepted: Mapping[str, pl.DataFrame]) -> Choices:
    """The lists with the names of a log's accepted rows.

    accepted : rows of each table by its name (see Log); empty for a workbook without a log. Names are in
    natural order: F2 before F10.
    """
    lists, too_long = [], []
    for title, columns, words in _LISTS:
        names = _names(accepted, columns) - set(words)
        kept = sorted((name for name in names if len(name) <= LONGEST_CHOICE), key=_natural_order)
        too_long += sorted(names - set(kept))
        lists.append(ChoiceList(title, columns, (*words, *kept)))
    return Choices(tuple(lists), tuple(too_long))


def _names(accepted: Mapping[str, pl.DataFrame], columns: Iterable[str]) -> set[str]:
    return {
        name
        for table in accepted.values()
        for column in columns
        if column in table.columns
        for name in table[column].drop_nulls().unique().to_list()
    }


def _natural_order(name: str) -> tuple[list[tuple[int, int, str]], str]:
    parts = re.split(r"(\d{1,18})", name.casefold())
    return [(0, int(part), "") if re.fullmatch(r"[0-9]+", part) else (1, 0, part) for part in parts if part], name
