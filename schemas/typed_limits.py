"""Limits of measured quantities as a shop writes them in its settings: "0.35 mm", "over 3", "5 % from new"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from draincurve.schemas.errors import SettingsError

_NUMBER = r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)"
_FORM = re.compile(
    rf"(?:(?P<side>over|under)\s+)?(?P<first>{_NUMBER})(?:\s+to\s+(?P<second>{_NUMBER}))?\s*(?P<unit>.*?)"
    r"(?P<new>\s+from\s+new)?",
    re.IGNORECASE,
)
_CODE = re.compile(r"(\d{1,2})\s*/\s*(\d{1,2})\s*/\s*(\d{1,2})")


@dataclass(frozen=True, slots=True)
class TypedLimit:
    """One limit as typed.

    side : over, under or None where the quantity says which;  numbers : one, or two for a range that is fit
    unit : as typed, perhaps empty;  from_new : percent of change from new;  code : numbers of an ISO 4406 code
    """

    text: str
    side: str | None
    numbers: tuple[float, ...]
    unit: str
    from_new: bool
    code: tuple[int, int, int] | None = None


def typed_limit(name: str, text: str) -> TypedLimit:
    """A limit out of the settings; `name` is how an error names it. Raises SettingsError where it cannot be read."""
    code = _CODE.fullmatch(text.strip())
    if code is not None:
        return TypedLimit(text, None, (), "", False, (int(code[1]), int(code[2]), int(code[3])))
    match = _FORM.fullmatch(text.strip())
    if match is None:
        raise SettingsError(
            f"{name} = {text!r}: expected a limit such as '0.35 mm', '12 to 16 mm2/s', 'over 3' or '10 % from new'"
        )
    numbers = tuple(float(part.replace(",", ".")) for part in (match["first"], match["second"]) if part)
    unit, from_new = match["unit"].strip(), match["new"] is not None
    if from_new and unit not in ("%", "percent"):
        raise SettingsError(f"{name} = {text!r}: a change from new is written in percent, such as '10 % from new'")
    if from_new and (len(numbers) > 1 or match["side"] or numbers[0] <= 0):
        raise SettingsError(f"{name} = {text!r}: write one number over 0, such as '10 % from new'")
    if len(numbers) > 1 and (match["side"] or numbers[0] >= numbers[1]):
        raise SettingsError(f"{name} = {text!r}: write a range from its smaller to its larger end, without more")
    return TypedLimit(text, match["side"].lower() if match["side"] else None, numbers, unit, from_new)
