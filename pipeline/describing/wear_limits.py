"""The shop's and the maker's limits of measured quantities, in each quantity's unit. The tighter of two holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from draincurve.pipeline.reading.cleaning import measurement_factor, normalised_unit
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.quantities import (
    CODE_SIZES_UM,
    ISO_CODE,
    QUANTITY_OF,
    Quantity,
    known_quantity,
    squashed_name,
)
from draincurve.schemas.settings import Settings
from draincurve.schemas.typed_limits import TypedLimit, typed_limit

Basis = Literal["absolute", "from new"]
SOURCES = (("maker_wear_limits", "the maker's limit"), ("wear_limits", "the shop's limit"))


@dataclass(frozen=True, slots=True)
class WearLimit:
    """A value at or under `low`, or at or over `high`, is past its limit. One of them may be None.

    unit : of both; source : whose limit it is, in words; text : as typed.
    """

    low: float | None
    high: float | None
    unit: str
    source: str
    text: str

    @property
    def label(self) -> str:
        """The limit with its unit, such as 0.35 mm or more."""
        sides = ((self.low, "less"), (self.high, "more"))
        return " and ".join(
            f"{value:g}{f' {self.unit}' if self.unit else ''} or {side}" for value, side in sides if value is not None
        )

    def passed_by(self, value: float) -> bool:
        """Whether a value is at or past the limit."""
        return (self.low is not None and value <= self.low) or (self.high is not None and value >= self.high)


@dataclass(frozen=True, slots=True)
class LimitKey:
    """The quantity of a limit: the name of a known one, or the squashed name of an unknown one."""

    quantity: str
    basis: Basis


def parsed_limits(settings: Settings) -> dict[LimitKey, WearLimit]:
    """Every limit of the settings.

    Raises SettingsError for a limit that cannot be read, whose unit does not fit the quantity, or that leaves open
    which side is worse.
    """
    parsed: dict[LimitKey, WearLimit] = {}
    for table, source in SOURCES:
        texts: Mapping[str, str] = getattr(settings, table)
        for typed, text in texts.items():
            name = f"[{table}] {typed}"
            for key, limit in _resolved(name, typed, typed_limit(name, text), source):
                parsed[key] = limit if key not in parsed else tighter(parsed[key], limit)
    return parsed


def limits_of(typed: str, text: str, source: str) -> list[tuple[LimitKey, WearLimit]]:
    """The limits that one text sets for a quantity as typed. Raises SettingsError as `parsed_limits`."""
    return _resolved(typed, typed, typed_limit(typed, text), source)


def tighter(first: WearLimit, second: WearLimit) -> WearLimit:
    """A limit that satisfies both, with the source of the tighter one."""
    if first.unit != second.unit:
        raise SettingsError(f"limits '{first.text}' and '{second.text}' of one quantity are in different units")
    low = max((limit.low for limit in (first, second) if limit.low is not None), default=None)
    high = min((limit.high for limit in (first, second) if limit.high is not None), default=None)
    base = first if (first.low, first.high) == (low, high) else second
    named = base if (base.low, base.high) == (low, high) else replace(base, source="the tighter of both limits")
    return replace(named, low=low, high=high)


def _resolved(name: str, typed: str, limit: TypedLimit, source: str) -> list[tuple[LimitKey, WearLimit]]:
    known = known_quantity(typed)
    if limit.code is not None or known == ISO_CODE:
        return _of_code(name, known, limit, source)
    if known is None:
        return [(LimitKey(squashed_name(typed), "absolute"), _of_unknown(name, limit, source))]
    quantity = QUANTITY_OF[known]
    if limit.from_new:
        return [(LimitKey(known, "from new"), _from_new(quantity, limit, source))]
    return [(LimitKey(known, "absolute"), _of_known(name, quantity, limit, source))]


def _of_code(name: str, known: str | None, limit: TypedLimit, source: str) -> list[tuple[LimitKey, WearLimit]]:
    """A whole code limits each of its classes. A class equal to its limit is within it, the next one is past it."""
    if known != ISO_CODE or limit.code is None:
        raise SettingsError(
            f"{name} = {limit.text!r}: an ISO 4406 code such as '18/16/13' limits iso_code, and only it"
        )
    return [
        (LimitKey(f"iso_code_{size}um", "absolute"), WearLimit(None, number + 0.5, "class", source, limit.text))
        for size, number in zip(CODE_SIZES_UM, limit.code, strict=True)
    ]


def _from_new(quantity: Quantity, limit: TypedLimit, source: str) -> WearLimit:
    share = limit.numbers[0]
    low = -share if quantity.worse in ("falling", "either") else None
    high = share if quantity.worse in ("rising", "either") else None
    return WearLimit(low, high, "% from new", source, limit.text)


def _of_known(name: str, quantity: Quantity, limit: TypedLimit, source: str) -> WearLimit:
    conversion = measurement_factor(limit.unit, quantity) if limit.unit else None
    if conversion is not None and conversion.factor is None:
        raise SettingsError(f"{name} = {limit.text!r}: {conversion.reason}")
    factor = 1.0 if conversion is None or conversion.factor is None else conversion.factor
    low, high = _sides(name, limit, quantity.worse, factor)
    return WearLimit(low, high, quantity.unit, source, limit.text)


def _of_unknown(name: str, limit: TypedLimit, source: str) -> WearLimit:
    if limit.from_new:
        raise SettingsError(f"{name} = {limit.text!r}: a change from new needs a quantity that is known here")
    low, high = _sides(name, limit, "either", 1.0)
    return WearLimit(low, high, normalised_unit(limit.unit), source, limit.text)


def _sides(name: str, limit: TypedLimit, worse: str, factor: float) -> tuple[float | None, float | None]:
    numbers = [factor * number for number in limit.numbers]
    if len(numbers) == 2:
        return numbers[0], numbers[1]
    side = limit.side or {"rising": "over", "falling": "under"}.get(worse)
    if side is None:
        raise SettingsError(f"{name} = {limit.text!r}: say which side is worse, such as 'over {limit.text}'")
    return (None, numbers[0]) if side == "over" else (numbers[0], None)
