"""People whose names sound alike, of whom one is hardly ever there: Brandon beside Brendan, Ana beside Anne."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.names_within_names import RARE

COMMON = 5
"""Times that the other name is there at least."""
FEWEST_CONSONANTS = 3
"""Consonants that raters must share, whom nothing else links; of riders the same unit speaks for one person."""

_NO_CONSONANT = re.compile(r"[aeiouyhw]+")
_TWICE = re.compile(r"(.)\1+")


def sound_alikes(drains: pl.DataFrame, column: str, *, times: Mapping[str, int]) -> tuple[tuple[str, str], ...]:
    """Pairs of a rare and a common name that begin with one letter and have the same consonants.

    drains : with unit_id and the names of the column. times : how often each name is there, in all tables. A rare
    rider must be alone in units that the common one has, too: two people seldom share a unit so.
    """
    by_sound: dict[str, list[str]] = {}
    for name in times:
        by_sound.setdefault(_sound(name), []).append(name)
    pairs = [
        (rare, common)
        for sound, names in by_sound.items()
        if len(names) > 1 and len(sound) > (1 if column == "rider" else FEWEST_CONSONANTS)
        for rare in names
        for common in names
        if times[rare] <= RARE and times[common] >= COMMON
    ]
    if column != "rider" or not pairs:
        return tuple(pairs)
    rows = drains.select(pl.col("unit_id").cast(pl.String), pl.col(column).cast(pl.String).alias("name")).drop_nulls()
    units = dict(rows.group_by("name").agg(pl.col("unit_id").unique()).iter_rows())
    return tuple((a, b) for a, b in pairs if a in units and set(units[a]) <= set(units.get(b, ())))


def _sound(name: str) -> str:
    """The first letter and the consonants of each word, each run of one letter once; empty for anything else."""
    folded = unicodedata.normalize("NFKD", name.casefold())
    words = re.findall(r"[^\W_]+", "".join(mark for mark in folded if not unicodedata.combining(mark)))
    if not all(word.isascii() and word.isalpha() for word in words):
        return ""
    return " ".join(word[0] + _TWICE.sub(r"\1", _NO_CONSONANT.sub("", word[1:])) for word in words)
