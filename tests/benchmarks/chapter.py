"""A chapter of the results, and the few lines of it that docs/speed.md shows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Short:
    """One comparison in short: what, draincurve's figures, the other's, and how many times as long it took."""

    what: str
    ours: str
    theirs: str
    ratio: str


@dataclass(frozen=True)
class Chapter:
    """Markdown of a chapter, and its comparisons in short."""

    text: str
    short: tuple[Short, ...] = ()


def in_short(chapters: Iterable[Chapter]) -> str:
    """The table that docs/speed.md shows, in Markdown."""
    lines = ["| beside | draincurve | the other | times as long |", "| --- | --- | --- | ---: |"]
    rows = [short for chapter in chapters for short in chapter.short]
    return "\n".join(lines + [f"| {row.what} | {row.ours} | {row.theirs} | {row.ratio} |" for row in rows]) + "\n"


def seconds(value: float) -> str:
    """Seconds to three digits."""
    return f"{value:.0f} s" if value >= 100 else f"{value:#.3g} s"


def times(ratio: float) -> str:
    """A ratio to two digits or none behind the point."""
    return f"{ratio:,.0f}" if ratio >= 10 else f"{ratio:.2g}"
