"""The catalogue of oils as lines of text."""

from __future__ import annotations

from collections.abc import Iterator

from draincurve.pipeline.describing.oil_catalogue import SHOWN_COLD_C, OilGrade, OilResult

UNKNOWN = "-"


def oil_lines(result: OilResult) -> Iterator[str]:
    """A table in columns, thinnest first, then what to know about it."""
    if not result.grades:
        yield "No oil in the file."
        return
    rows = [headings(result.celsius), *(cells(grade) for grade in result.grades)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        first, *others, last = zip(row, widths, strict=True)
        yield "  ".join([first[0].ljust(first[1]), *(text.rjust(width) for text, width in others), last[0]]).rstrip()
    for grade in result.grades:
        for note in grade.notes:
            yield f"{grade.oil_grade}: {note}."
    yield (
        "kv: kinematic viscosity in mm2/s; at other heat than 40 and 100 C by ASTM D341. VI: by ASTM D2270. "
        "A shop's weight is no viscosity."
    )


def headings(celsius: float) -> tuple[str, ...]:
    """Headings of the table."""
    return ("grade", "kv40", "kv100", "VI", f"kv{SHOWN_COLD_C:g}", f"kv at {celsius:g} C", "ISO 3448")


def cells(grade: OilGrade) -> tuple[str, ...]:
    """One grade under the headings."""
    index = grade.viscosity_index
    return (
        grade.oil_grade,
        viscosity(grade.kv40),
        viscosity(grade.kv100),
        UNKNOWN if index is None else str(index),
        viscosity(grade.kv_cold),
        viscosity(grade.kv_asked),
        grade.iso_grade or UNKNOWN,
    )


def viscosity(value: float | None) -> str:
    """A viscosity in mm2/s to three or four digits, as data sheets print it."""
    if value is None:
        return UNKNOWN
    return f"{value:.0f}" if value >= 1000 else f"{value:.1f}" if value >= 10 else f"{value:.2f}"
