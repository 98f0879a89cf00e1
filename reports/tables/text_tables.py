"""Tables as lines of text for the terminal: the spring comparison and the catalogue of oils."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from draincurve.pipeline.describing import OilResult
from draincurve.pipeline.judging.springs import SpringComparison, SpringPair
from draincurve.reports.content.sections.oils_section import oil_cells, oil_headings

_SPRING_HEADINGS = (
    "spring",
    "against",
    "verdict",
    "hours multiplier",
    "p",
    "p adjusted",
    "p units",
    "drains",
    "more drains",
)
SPRING_NOTES = (
    "hours multiplier: oil on the first spring lasts so many times as long as on the other; under 1, less long.",
    "p: of no difference; p adjusted: for the number of tests; p units: by permuting units.",
    "Fit only springs that the maker allows in the unit, with the oil that the maker allows.",
)


def spring_lines(comparisons: Sequence[SpringComparison]) -> list[str]:
    """A table for each channel, then the reason for each pair, then what is confounded and what is left out."""
    lines: list[str] = []
    for comparison in comparisons:
        lines.append(f"{comparison.channel}:")
        if comparison.why_none is not None:
            lines.append(f"  {comparison.why_none}")
        if comparison.pairs:
            lines.extend(f"  {line}" for line in _spring_table(comparison.pairs))
        lines.extend(f"  {pair.spring_type} against {pair.compared_with}: {pair.reason}" for pair in comparison.pairs)
        lines.extend(f"  caution: {sentence}" for sentence in comparison.confounded)
        lines.extend(f"  left out: {sentence}" for sentence in comparison.left_out)
    return [*lines, *SPRING_NOTES] if any(comparison.pairs for comparison in comparisons) else lines


def oil_lines(result: OilResult) -> Iterator[str]:
    """A table of the oils, thinnest first, then notes on them."""
    if not result.grades:
        yield "No oil in the file."
        return
    rows = [oil_headings(result.celsius), *(oil_cells(grade) for grade in result.grades)]
    widths = _widths(rows)
    for row in rows:
        first, *others, last = zip(row, widths, strict=True)
        yield "  ".join([first[0].ljust(first[1]), *(text.rjust(width) for text, width in others), last[0]]).rstrip()
    for grade in result.grades:
        for note in grade.notes:
            yield f"{grade.oil_grade}: {note}."
    yield (
        "kv: kinematic viscosity in mm2/s; at temperatures other than 40 and 100 C by ASTM D341. VI: by ASTM D2270. "
        "A shop's weight is not a viscosity."
    )


def _spring_table(pairs: Sequence[SpringPair]) -> list[str]:
    """Rows in columns of equal width."""
    rows = [_SPRING_HEADINGS, *(_spring_cells(pair) for pair in pairs)]
    widths = _widths(rows)
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def _spring_cells(pair: SpringPair) -> tuple[str, ...]:
    return (
        pair.spring_type,
        pair.compared_with,
        pair.verdict,
        "-" if pair.hours_multiplier is None else f"{pair.hours_multiplier:.2f} ({pair.low:.2f} to {pair.high:.2f})",
        *(_p_value(value) for value in (pair.p_value, pair.p_adjusted, pair.p_permutation)),
        str(pair.drains),
        "-" if pair.drains_needed is None else str(pair.drains_needed),
    )


def _p_value(value: float | None) -> str:
    if value is None:
        return "-"
    return "<0.001" if value < 0.001 else f"{value:.3f}"


def _widths(rows: Sequence[tuple[str, ...]]) -> list[int]:
    """Width of each column in letters."""
    return [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
