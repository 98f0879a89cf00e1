"""Oil to have ready for several units, by grade, in words."""

from __future__ import annotations

from collections.abc import Iterable

from draincurve.reports.content import wording


def litres_words(fills: Iterable[tuple[str | None, float | None]]) -> str:
    """Litres by grade, and for how many units oil or amount is not known; empty without a unit.

    fills : grade and litres of each unit [l], None where not known
    """
    grades: dict[str, float] = {}
    unknown = 0
    for grade, litres in fills:
        if grade is None or litres is None:
            unknown += 1
        else:
            grades[grade] = grades.get(grade, 0.0) + litres
    parts = [f"{grade} {litres:.2f} l" for grade, litres in sorted(grades.items())]
    if unknown:
        parts.append(f"for {wording.counted(unknown, 'unit')} oil or amount is not known")
    return ", ".join(parts)
