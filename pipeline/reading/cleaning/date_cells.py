"""Cells that hold a date: of all dates that each text may mean, those in one order for each separator."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from draincurve.pipeline.reading.cleaning.date_texts import (
    NO_DATE,
    ORDERS,
    Order,
    PossibleDates,
    possible_dates,
    wrong_weekday,
)
from draincurve.pipeline.reading.cleaning.far_dates import (
    SettledOrder,
    last_day_from_1904,
    with_day_numbers,
    with_year_first,
)
from draincurve.pipeline.reading.cleaning.swapped_dates import are_swapped, in_doubt
from draincurve.schemas.columns import EARLIEST_YEAR

_ISO = r"^\s*\d{4}-\d{2}-\d{2}([T ]\s*\d{1,2}:\d{2}[^/]*)?\s*$"
DAY_FIRST_MARK = "."
"""Dates with this separator are day first in every country that writes them so."""
_ANY_DOTTED = ""
"""In place of a date that proves that dots mean day first."""
FEWEST_PROOFS = 2
"""Dates that only a year in front explains; a single one may be a slip."""


@dataclass(frozen=True, slots=True)
class ReadDates:
    """A column of dates: date, reason, note and either of each row; and the order of day and month by separator.

    last_from_1904 : the last of dates that are all day numbers and may be counted from 1904, as read
    """

    frame: pl.DataFrame
    orders: Mapping[str, SettledOrder]
    last_from_1904: date | None = None


def read_dates(texts: pl.Series, declared: Order | None, *, as_of: date, planned: bool = False) -> ReadDates:
    """Dates of a column, all with one separator in one order of day and month.

    texts : String, shape (n,), as typed. declared : order from the settings or the header; None finds it from the
    dates. planned : dates may be after `as_of`, which then proves no order.
    The frame has columns date (null where there is none), reason, note and either, shape (n,). either : the date
    could be read in two ways, and the other dates of the column say which.
    """
    frame = pl.DataFrame({"text": texts.cast(pl.String)})
    iso = pl.col("text").str.contains(_ISO)
    day = pl.col("text").str.strip_chars().str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False)
    frame = frame.with_columns(pl.when(iso).then(day).alias("iso"))
    odd = frame.filter(pl.col("iso").is_null() & pl.col("text").is_not_null()).get_column("text")
    possible = {text: possible_dates(text, as_of) for text in odd.unique(maintain_order=True)}
    orders = settled_orders(possible, declared, as_of=as_of, planned=planned)
    if declared is None:
        possible = with_year_first(possible, orders, iso=frame["iso"], as_of=as_of)
    possible = with_day_numbers(possible, orders, iso=frame["iso"])
    parsed = pl.DataFrame(
        [
            (
                text,
                *_in_order(item, orders.get(item.separator, SettledOrder())),
                item.note,
                _is_either(item, declared),
            )
            for text, item in possible.items()
        ],
        schema={"text": pl.String, "read": pl.Date, "reason": pl.String, "note": pl.String, "either": pl.Boolean},
        orient="row",
    )
    joined = frame.join(parsed, on="text", how="left", maintain_order="left")
    if possible and are_swapped(frame["iso"].drop_nulls(), possible.values()):
        joined = joined.with_columns(*in_doubt("iso"))
    either = pl.col("either").fill_null(False) & pl.col("read").is_not_null()
    in_full = frame["iso"].count() > 0
    last = None if planned or in_full else last_day_from_1904(possible, as_of)
    return ReadDates(joined.select(pl.coalesce("iso", "read").alias("date"), "reason", "note", either), orders, last)


def settled_orders(
    possible: Mapping[str, PossibleDates], declared: Order | None, *, as_of: date, planned: bool
) -> dict[str, SettledOrder]:
    """The order of day and month of each separator in a column.

    A declared order wins. Otherwise a date that is possible in one order only (a day over 12) proves it for its
    separator; without one, dots mean day first, and else a date proves it that only one order puts on its weekday, or
    between 1970 and today, unless dates may be `planned`. Proofs of both orders prove neither. The order is also
    unknown where all years have two digits, may come first, and the dates are then closer together; unless some
    cannot be otherwise.
    """
    groups: dict[str, dict[str, PossibleDates]] = {}
    for text, item in possible.items():
        if any(item.by_order):
            groups.setdefault(item.separator, {})[text] = item
    if declared is not None:
        return {separator: SettledOrder(declared) for separator in groups}
    return {
        separator: _settled(separator, group, as_of=as_of, planned=planned) for separator, group in groups.items()
    }


def _settled(separator: str, group: Mapping[str, PossibleDates], *, as_of: date, planned: bool) -> SettledOrder:
    if _year_first_fits_better(group, as_of):
        proof = None if planned else _proof_of_year_first(group, as_of)
        return SettledOrder(doubtful_year=True) if proof is None else SettledOrder("year first", proof, by_today=True)
    proofs = _proofs(group)
    if separator == DAY_FIRST_MARK:
        proofs.setdefault("day first", _ANY_DOTTED)
    proofs = proofs or _proofs(group, by_weekday=True)
    by_today = not proofs and not planned
    if by_today:
        proofs = _proofs(group, plausible_on=as_of)
    if len(proofs) == 2:
        return SettledOrder(contradiction=(proofs["day first"], proofs["month first"]))
    for order, proof in proofs.items():
        return SettledOrder(order, proof or None, by_today=by_today)
    return SettledOrder()


def _proofs(
    group: Mapping[str, PossibleDates], *, plausible_on: date | None = None, by_weekday: bool = False
) -> dict[Order, str]:
    """The first text that proves each order.

    plausible_on : a date after this day, or before 1970, proves it too. by_weekday : so does one on another weekday
    """
    proofs: dict[Order, str] = {}
    for text, item in group.items():
        day_first, month_first = (
            day
            if day is not None
            and (plausible_on is None or _plausible(day, plausible_on))
            and (not by_weekday or _is_on(day, item))
            else None
            for day in item.by_order[:2]
        )
        if (day_first is None) != (month_first is None):
            proofs.setdefault("day first" if month_first is None else "month first", text)
    return proofs


def _year_first_fits_better(group: Mapping[str, PossibleDates], as_of: date) -> bool:
    """Whether two-digit years may come first: every date allows it, and the dates then span fewer days."""
    several = group.values()
    days = [day for item in several if (day := item.by_order[2]) is not None and _plausible(day, as_of)]
    if len(days) < len(several) or not all(item.short_year for item in several):
        return False
    spans = [
        max(others) - min(others)
        for position in (0, 1)
        if len(others := [day for item in several if (day := item.by_order[position]) is not None]) == len(several)
    ]
    return max(days) - min(days) < min(spans, default=timedelta.max)


def _proof_of_year_first(group: Mapping[str, PossibleDates], as_of: date) -> str | None:
    """The first of some dates that only a year in front makes likely, where none can be month first."""
    proofs = [
        text for text, item in group.items() if not any(day and _plausible(day, as_of) for day in item.by_order[:2])
    ]
    only = all(item.by_order[1] is None for item in group.values())
    return proofs[0] if only and len(proofs) >= FEWEST_PROOFS else None


def _is_either(possible: PossibleDates, declared: Order | None) -> bool:
    """Whether only the other dates can say which of two dates a text is: dots mean day first everywhere."""
    day_first, month_first, _ = possible.by_order
    undeclared = declared is None and possible.separator != DAY_FIRST_MARK
    both = [day for day in (day_first, month_first) if day is not None and _is_on(day, possible)]
    return undeclared and len(both) == 2 and day_first != month_first


def _in_order(possible: PossibleDates, settled: SettledOrder) -> tuple[date | None, str | None]:
    """Date of one text in the order of its separator, or the reason why there is none."""
    if not any(possible.by_order):
        return possible.certain, possible.reason
    if settled.order is not None:
        day = possible.by_order[ORDERS.index(settled.order)]
        if day is not None and not _is_on(day, possible):
            return None, wrong_weekday(day)
        return (
            day,
            None if day is not None else f"is no date when it is read {settled.order}: write it like 2026-03-04",
        )
    orders = 3 if settled.doubtful_year else 2
    days = sorted({day for day in possible.by_order[:orders] if day is not None and _is_on(day, possible)})
    if len(days) == 1:
        return days[0], None
    if not days:
        return None, NO_DATE
    why = ""
    if settled.contradiction is not None:
        first, second = settled.contradiction
        why = f" ('{first}' is day first, '{second}' month first)" if first else f" ('{second}' is month first)"
    return None, (
        f"may be {' or '.join(day.isoformat() for day in days)}{why}: "
        "write the right one, or set date_order in the settings"
    )


def _is_on(day: date, possible: PossibleDates) -> bool:
    """Whether a day is on the weekday that the text says, if it says one."""
    return not possible.on or day.weekday() in possible.on


def _plausible(day: date, as_of: date) -> bool:
    return day.year >= EARLIEST_YEAR and day <= as_of
