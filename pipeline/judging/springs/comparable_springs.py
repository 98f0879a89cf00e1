"""Which springs may be compared: only where the spring runs in the oil that was rated (see spring_in_oil)."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import polars as pl

from draincurve.pipeline.describing import RatedDrains, springless

MOST_SPRINGS = 8
"""Springs compared with each other; a log with more has its rarest left out, and named."""


@dataclass(frozen=True)
class Comparable:
    """The drains and pairs that may be compared.

    rows : drains of the springs in `pairs`; pairs : (spring, compared with), the one with more drains second;
    mixed : a compared spring has drains of a springless chamber too, so that a fit on all drains mixes the two.
    """

    rows: pl.DataFrame
    pairs: tuple[tuple[str, str], ...]
    left_out: tuple[str, ...]
    why_none: str | None
    mixed: bool


def comparable(drains: RatedDrains) -> Comparable:
    """What of a channel's drains may be compared."""
    named = drains.rows.filter(pl.col("spring_type").is_not_null())
    named = named.with_columns(springless(named).alias("springless"))
    outside = pl.col("springless").is_not_null()
    rows = named.filter(~outside).drop("springless")
    sentences = _outside_sentences(named.filter(outside), rows)
    ranked = _most_used_first(rows)
    springs = ranked[:MOST_SPRINGS]
    if len(ranked) > len(springs):
        sentences.append(
            f"Only the {MOST_SPRINGS} springs with most drains are compared; left out are "
            f"{', '.join(ranked[MOST_SPRINGS:])}."
        )
    kept = rows.filter(pl.col("spring_type").is_in(springs))
    pairs, apart = [], []
    for second, first in combinations(springs, 2):
        chambers = [_chambers(kept, name) for name in (first, second)]
        if chambers[0] and chambers[1] and not chambers[0] & chambers[1]:
            apart.append(
                f"{first} and {second} are not compared: they were never drained from the same kind of chamber "
                f"({', '.join(sorted(chambers[0]))} against {', '.join(sorted(chambers[1]))})."
            )
        else:
            pairs.append((first, second))
    mixed = not set(springs).isdisjoint(named.filter(outside)["spring_type"].to_list())
    return Comparable(
        kept, tuple(pairs), tuple(sentences + apart), _why_none(named, ranked, pairs=pairs), mixed and bool(pairs)
    )


def _outside_sentences(outside: pl.DataFrame, inside: pl.DataFrame) -> list[str]:
    """One sentence for each spring with drains of oil that it does not run in."""
    kept = set(inside["spring_type"].to_list())
    counts = outside.group_by("spring_type", "springless").len().sort("spring_type", "springless")
    sentences = []
    for name, chamber, count in counts.iter_rows():
        done = "only its other drains are compared" if name in kept else "not compared"
        drains = "1 drain is" if count == 1 else f"{count} drains are"
        sentences.append(f"{name}: {done}, since {drains} of {chamber}.")
    return sentences


def _most_used_first(rows: pl.DataFrame) -> list[str]:
    counts = rows.group_by("spring_type").len()
    return counts.sort(["len", "spring_type"], descending=[True, False])["spring_type"].to_list()


def _chambers(rows: pl.DataFrame, spring: str) -> set[str]:
    """Chambers that a spring's drains name; empty where any drain leaves it blank, since it may be any."""
    of_spring = rows.filter(pl.col("spring_type") == spring)["chamber"]
    if of_spring.null_count():
        return set()
    return set(of_spring.str.strip_chars().str.to_lowercase().to_list())


def _why_none(named: pl.DataFrame, springs: list[str], *, pairs: list[tuple[str, str]]) -> str | None:
    if pairs:
        return None
    if named.height and not springs:
        return "no drain is of oil that a spring runs in, so springs cannot be compared"
    if len(springs) == 1:
        return f"every drain of oil that a spring runs in was on {springs[0]}, so there is nothing to compare it with"
    if springs:
        return "no two springs were drained from the same kind of chamber, so there is nothing to compare"
    return "no rated drain names its spring, so springs cannot be compared"
