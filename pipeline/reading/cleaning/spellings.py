"""One spelling for every name across all tables.

Spellings that differ by case, spaces or punctuation are one name. Names that are merely alike are asked about, never
merged.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding

NAME_COLUMNS = (
    "unit_id",
    "oil_grade",
    "spring_type",
    "rider",
    "rated_by",
    "surface",
    "site",
    "machine",
    "chamber",
    "drain_method",
)
"""Columns whose cells are names, each with one spelling."""

FEWEST_LETTERS = 5
"""Names with fewer letters often differ by one ("Al", "Hal"), so they are not asked about."""
SHORTEST_SLIP = 3
"""Words shorter than this that differ are taken as meant, not as a slip [letters]."""
MOST_ASKED = 25
"""Pairs of similar names that are asked about for each column; the others are only counted."""


@dataclass(frozen=True, slots=True)
class Spellings:
    """Spellings of one kind of name over all tables.

    shown : the spelling shown, for each text. variants : all spellings of a name, where there are several, by the one
    shown. near : pairs of names, as shown, that may be one.
    """

    shown: Mapping[str, str]
    variants: Mapping[str, tuple[str, ...]]
    near: tuple[tuple[str, str], ...]


def with_one_spelling(tables: Mapping[str, WorkingTable]) -> dict[str, WorkingTable]:
    """The tables with every name in one spelling, that of the drains where they have the name."""
    done = dict(tables)
    for name in NAME_COLUMNS:
        having = [table for table in done if name in done[table].typed.columns]
        if not having:
            continue
        spellings = common_spellings([done[table].typed.get_column(name) for table in having])
        for table in having:
            done[table] = _respelt(done[table], name, spellings=spellings)
        done[having[0]] = done[having[0]].with_findings(*_remarks(name, spellings))
    return done


def _respelt(working: WorkingTable, name: str, *, spellings: Spellings) -> WorkingTable:
    changed = {text: shown for text, shown in spellings.shown.items() if text != shown}
    if not changed:
        return working
    return working.with_typed(working.typed.with_columns(pl.col(name).replace(changed)))


def _remarks(name: str, spellings: Spellings) -> list[pl.DataFrame]:
    remarks = [
        file_finding(name, shown, kind="note", message=f"{_listed(variants)} are taken as one: '{shown}'")
        for shown, variants in spellings.variants.items()
    ]
    remarks += [
        file_finding(name, first, kind="asked", message=f"are '{first}' and '{second}' one? They are kept apart")
        for first, second in spellings.near[:MOST_ASKED]
    ]
    more = len(spellings.near) - MOST_ASKED
    if more > 0:
        message = f"{more} more pairs of names look alike and are kept apart"
        remarks.append(file_finding(name, None, kind="asked", message=message))
    return remarks


def _listed(names: tuple[str, ...]) -> str:
    return ", ".join(f"'{name}'" for name in names[:-1]) + f" and '{names[-1]}'"


def common_spellings(columns: Sequence[pl.Series]) -> Spellings:
    """The common spelling of each name.

    columns : String, trimmed, one for each table. The first table that has a name decides how it is shown: by its
    most frequent spelling, or the earliest of equally frequent ones.
    """
    counted = [
        column.alias("text")
        .to_frame()
        .with_row_index("first")
        .drop_nulls()
        .group_by("text", maintain_order=True)
        .agg(pl.len().alias("times"), pl.col("first").min())
        .with_columns(pl.lit(rank).alias("rank"))
        for rank, column in enumerate(columns)
    ]
    levels = pl.concat(counted)
    texts = levels.get_column("text").unique(maintain_order=True)
    keys = pl.DataFrame({"text": texts, "key": pl.Series([spelling_key(text) for text in texts], dtype=pl.String)})
    levels = levels.join(keys, on="text").sort(
        "key", "rank", "times", "first", descending=[False, False, True, False]
    )
    best = levels.group_by("key", maintain_order=True).agg(
        pl.col("text").first().alias("shown"), pl.col("text").unique(maintain_order=True).alias("spellings")
    )
    by_text = keys.join(best, on="key", how="left", maintain_order="left")
    return Spellings(
        dict(by_text.select("text", "shown").iter_rows()),
        {shown: tuple(spellings) for _, shown, spellings in best.iter_rows() if len(spellings) > 1},
        near_matches(dict(best.select("key", "shown").iter_rows())),
    )


def spelling_key(text: str) -> str:
    """A name without case, spaces and punctuation: equal for spellings of one name.

    A mark between two digits is kept ("2.5W" is not "25W", "7-1" is not "71"), and so is a plus sign.
    """
    folded = unicodedata.normalize("NFKC", text).casefold()

    def kept(match: re.Match[str]) -> str:
        before, after = folded[match.start() - 1 : match.start()], folded[match.end() : match.end() + 1]
        if "+" in match.group():
            return "+"
        if before.isdigit() and after.isdigit():
            return "." if match.group() in (".", ",") else "_"
        return ""

    return re.sub(r"[\W_]+", kept, folded) or folded


def near_matches(shown: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Pairs of names that may be one: they differ by a letter, by the order of words or by leading zeros.

    shown : the spelling shown, by spelling key. A different digit is never a slip, since units are numbered.
    """
    pairs: set[tuple[str, str]] = set()
    groups: dict[str, list[str]] = {}
    for key in shown:
        for signature in _signatures(key):
            groups.setdefault(signature, []).append(key)
    for keys in groups.values():
        pairs.update((a, b) for i, a in enumerate(keys) for b in keys[i + 1 :] if a != b and _near(a, b))
    named = ((shown[a], shown[b]) for a, b in sorted(pairs))
    return tuple((a, b) for a, b in named if not _differ_by_short_word(a, b))


def _signatures(key: str) -> set[str]:
    """Keys that similar names share: the same numbers and words in any order, or the same text without one letter."""
    signatures = {f"words {_words(key)}"} if any(mark.isdigit() for mark in key) else set()
    if sum(mark.isalpha() for mark in key) >= FEWEST_LETTERS:
        signatures.update(key[:i] + key[i + 1 :] for i, mark in enumerate(key) if mark.isalpha())
        signatures.add(key)
    return signatures


def _words(key: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Words in alphabetical order, and numbers in order of appearance without leading zeros."""
    numbers = tuple(re.sub(r"^0+(?=\d)", "", number) for number in re.findall(r"\d+(?:[._]\d+)*", key))
    return tuple(sorted(re.findall(r"[^\W\d_]+", key))), numbers


def _near(a: str, b: str) -> bool:
    """Whether two keys differ by one letter, or only by the order of words and leading zeros."""
    same_words = any(mark.isdigit() for mark in a) and _words(a) == _words(b) and ("+" in a) == ("+" in b)
    return same_words or _one_letter_apart(a, b)


def _differ_by_short_word(a: str, b: str) -> bool:
    """Whether two names differ by one short word, which is meant so: "Rider A" and "Rider B"."""
    words = [re.split(r"[\W\d_]+", name.casefold()) for name in (a, b)]
    apart = [(x, y) for x, y in zip(*words, strict=False) if x != y]
    return len(words[0]) == len(words[1]) and len(apart) == 1 and max(map(len, apart[0])) < SHORTEST_SLIP


def _one_letter_apart(a: str, b: str) -> bool:
    """Whether one letter is added, missing or different, or two neighbours are swapped; digits are equal."""
    short, long = sorted((a, b), key=len)
    start = next((i for i, (x, y) in enumerate(zip(short, long, strict=False)) if x != y), len(short))
    if len(short) == len(long):
        x, y = short[start:], long[start:]
        one = x[1:] == y[1:] and x[0].isalpha() and y[0].isalpha()
        swapped = x[:2] == y[:2][::-1] and x[2:] == y[2:] and x[:2].isalpha()
        return one or swapped
    return len(long) - len(short) == 1 and short[start:] == long[start + 1 :] and long[start].isalpha()
