"""The spring comparison as lines of text for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from draincurve.pipeline.judging.springs.comparison import SpringComparison, SpringPair

_HEADS = ("spring", "against", "verdict", "hours multiplier", "p", "p adjusted", "p units", "drains", "more drains")


def spring_lines(comparisons: Sequence[SpringComparison]) -> list[str]:
    """A table for each channel, then a line of reason for each pair, then what is confounded and left out."""
    lines: list[str] = []
    for one in comparisons:
        lines.append(f"{one.channel}:")
        if one.why_none is not None:
            lines.append(f"  {one.why_none}")
        if one.pairs:
            lines.extend(f"  {line}" for line in _table(one.pairs))
        lines.extend(f"  {pair.spring_type} against {pair.compared_with}: {pair.reason}" for pair in one.pairs)
        lines.extend(f"  mind: {sentence}" for sentence in one.confounded)
        lines.extend(f"  left out: {sentence}" for sentence in one.left_out)
    return lines


def _table(pairs: Sequence[SpringPair]) -> list[str]:
    """Rows in columns of equal width."""
    rows = [_HEADS, *(_cells(pair) for pair in pairs)]
    widths = [max(len(row[place]) for row in rows) for place in range(len(_HEADS))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def _cells(pair: SpringPair) -> tuple[str, ...]:
    return (
        pair.spring_type,
        pair.compared_with,
        pair.verdict,
        f"{pair.hours_multiplier:.2f} ({pair.low:.2f} to {pair.high:.2f})",
        *(_chance(value) for value in (pair.p_value, pair.p_adjusted, pair.p_permutation)),
        str(pair.drains),
        "-" if pair.drains_needed is None else str(pair.drains_needed),
    )


def _chance(value: float | None) -> str:
    if value is None:
        return "-"
    return "<0.001" if value < 0.001 else f"{value:.3f}"
