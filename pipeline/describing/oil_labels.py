"""The number in an oil's name, which shops call its weight. It is no viscosity: two oils of one number can differ."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

APART = 1.2
"""Ratio of viscosities above which a shared label is noted: a fifth changes how a unit works (common practice)."""

_NUMBER = r"\d+(?:[.,]\d+)?"
_MULTIGRADE = re.compile(rf"({_NUMBER})\s*w\s*[-/ ]\s*({_NUMBER})", re.IGNORECASE)
_WEIGHT = re.compile(rf"\bsae\s*({_NUMBER})|({_NUMBER})\s*(?:w\b|wt\b|weight\b)", re.IGNORECASE)
_ISO = re.compile(rf"\b(?:iso\s*)?vg\s*({_NUMBER})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class SharedLabel:
    """Grades with one number in their names and viscosities at 40 C that differ by more than a fifth.

    ratio : viscosity of the thickest over that of the thinnest.
    """

    number: str
    thinnest: str
    thickest: str
    ratio: float


def label_number(name: str) -> str | None:
    """The number in a name: "5" of "Fork 5", "5W", "SAE 5" and "5 wt"; "10W-40"; "VG 15", which is no weight.

    None for a name without a number, or with several of which none is marked as a weight.
    """
    multigrade = _MULTIGRADE.search(name)
    if multigrade:
        return f"{_without_zeros(multigrade[1])}W-{_without_zeros(multigrade[2])}"
    iso = _ISO.search(name)
    if iso:
        return f"VG {_without_zeros(iso[1])}"
    weight = _WEIGHT.search(name)
    if weight:
        return _without_zeros(weight[1] or weight[2])
    numbers = re.findall(_NUMBER, name)
    return _without_zeros(numbers[0]) if len(numbers) == 1 else None


def shared_labels(oils: Sequence[tuple[str, float]]) -> tuple[SharedLabel, ...]:
    """Labels whose grades differ too much in viscosity, largest ratio first.

    oils : name and viscosity at 40 C [mm2/s] of each grade.
    """
    by_label: dict[str, list[tuple[float, str]]] = {}
    for name, kv40 in oils:
        number = label_number(name)
        if number is not None:
            by_label.setdefault(number, []).append((kv40, name))
    shared = []
    for number, members in by_label.items():
        (thin, thinnest), (thick, thickest) = min(members), max(members)
        if thick > APART * thin:
            shared.append(SharedLabel(number, thinnest, thickest, thick / thin))
    return tuple(sorted(shared, key=lambda item: (-item.ratio, item.number)))


def _without_zeros(number: str) -> str:
    """A number without leading zeros and with a decimal point: "05" is "5"."""
    return f"{float(number.replace(',', '.')):g}"
