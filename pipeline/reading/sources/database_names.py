"""Which table of a database is meant, among those that are there."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import SourceError

_MOST_NAMED = 12


def contract_tables(names: Sequence[str], where: str) -> dict[str, str]:
    """Tables of the contract, drains first, to the names they have here, in any case.

    Raises SourceError where there are no drains, or two tables differ by case alone.
    """
    found: dict[str, str] = {}
    for table in TABLES:
        same = [name for name in names if name.casefold() == table]
        if len(same) > 1:
            raise SourceError(f"{where}: tables {' and '.join(same)} are both {table}; name one behind a #")
        if same:
            found[table] = same[0]
    if "drains" not in found:
        raise SourceError(
            f"{where}: no table named drains; {listed(names)}; name the one with the oil changes behind a #"
        )
    return found


def chosen_table(wanted: str, names: Sequence[str], where: str) -> str:
    """The table of that name, exactly or else in any case. Raises SourceError, with what is there and the nearest."""
    if wanted in names:
        return wanted
    same = [name for name in names if name.casefold() == wanted.casefold()]
    if len(same) == 1:
        return same[0]
    by_key = {name.casefold(): name for name in names}
    near = get_close_matches(wanted.casefold(), by_key, n=1)
    meant = f"; is {by_key[near[0]]} meant?" if near else ""
    raise SourceError(f"{where}: no table named {wanted}; {listed(names)}{meant}")


def listed(names: Sequence[str]) -> str:
    """The tables that are there, in words."""
    if not names:
        return "there are no tables that this user may see"
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return f"the tables there are {', '.join(names[:_MOST_NAMED])}{more}"
