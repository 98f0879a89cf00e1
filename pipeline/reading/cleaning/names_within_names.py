"""Cells that hold a name of other rows and more words: "Brask (Tevik on Sunday)", "F09 (was F02)", "Fork 5 old can".

Such a cell is a name of its own only where the shop uses it as one. One that holds several names is asked about, or
held back, as two names in one cell are; one that holds a single name may be that one, which is asked.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Set
from typing import NamedTuple

from draincurve.pipeline.reading.cleaning.two_names import PEOPLE, TwoNames

RARE, COMMON = 2, 3
"""Times that the rarer of two names is there at most, and the other one at least."""
MOST_WORDS = 12
"""Words of a cell; a longer one is a note."""
SHORTEST_WORD = 3
"""Letters of a word that says something; a shorter one is part of a number, such as the B of F01B."""

FEWEST_OF_A_FIRST_NAME = 3
"""People whose names begin with the same name, from which it is a first name of several: "Ana Brask", "Ana Tevik"."""

_PART = re.compile(r"[^\W\d_]+|\d+(?:[.,_/-]\d+)*")
_REMARK = re.compile(r"[(\[{]|\s[^\W\d_A-Z]*[a-z]{3}")
"""A bracket, or a word in small letters: what stands beside a name is no other name."""
_BARE_WEIGHT = frozenset(("w", "wt", "weight", "sae"))
"""Words beside the number of an oil that names no maker."""

_OF_A_FAMILY = frozenset(
    (
        *(
            "senior",
            "junior",
            "sen",
            "jun",
            "sr",
            "jr",
            "ii",
            "iii",
            "vater",
            "sohn",
            "père",
            "fils",
            "aîné",
            "cadet",
        ),
        *("padre", "hijo", "mayor", "menor", "figlio"),
    )
)
"""Words by which two people of one name are told apart."""

Words = tuple[str, ...]


class NamesWithin(NamedTuple):
    """Cells that hold names of other rows: those that hold several, and pairs that may be one name."""

    several: dict[str, TwoNames]
    pairs: tuple[tuple[str, str], ...]


def names_within(times: Mapping[str, int], column: str, *, listed: frozenset[str] = frozenset()) -> NamesWithin:
    """What the names of a column hold of each other.

    times : how often each is there, by the spelling shown. listed : names that are one whatever they look like
    """
    words = {name: parts for name in times if len(parts := _words(name)) <= MOST_WORDS}
    known: dict[Words, str] = {}
    for name in sorted(words, key=lambda name: -times[name]):
        known.setdefault(words[name], name)
    lengths: dict[str, set[int]] = {}
    for parts in filter(None, known):
        lengths.setdefault(parts[0], set()).add(len(parts))
    several: dict[str, TwoNames] = {}
    longer: dict[str, dict[str, Words]] = {}
    for text, parts in words.items():
        inside, rest = _inside(parts, known, lengths)
        rare = times[text] <= RARE or (column in PEOPLE and _REMARK.search(text) is not None)
        if len(inside) > 1 and rare and text not in listed:
            several[text] = TwoNames(inside, None)
        elif len(inside) == 1 and text not in listed:
            longer.setdefault(inside[0], {})[text] = rest
    if column in PEOPLE:
        first_names = _of_several_people(longer, times)
        several |= {name: people for name, people in first_names.items() if name not in listed}
        longer = {name: texts for name, texts in longer.items() if name not in several}
    pairs = _likely_pairs(longer, times, column)
    return NamesWithin(dict(sorted(several.items())), tuple(sorted(pairs)))


def _of_several_people(longer: Mapping[str, Mapping[str, Words]], times: Mapping[str, int]) -> dict[str, TwoNames]:
    """Rare names that begin, or end, the names of several people."""
    common = {name: tuple(text for text in texts if times[text] >= COMMON) for name, texts in longer.items()}
    return {name: TwoNames(texts, None) for name, texts in common.items() if len(texts) > 1 and times[name] <= RARE}


def _likely_pairs(
    longer: Mapping[str, Mapping[str, Words]], times: Mapping[str, int], column: str
) -> Iterator[tuple[str, str]]:
    """Pairs of names that are likely one: a cell that holds a name, and that name.

    longer : by name the cells that hold it alone, with the words that they have besides
    """
    rests = Counter(rest for texts in longer.values() for rest in texts.values())
    for name, texts in longer.items():
        only_one = len(texts) == 1
        bare = only_one and column == "oil_grade" and _is_bare_weight(_words(name))
        for text, rest in texts.items():
            rare, common = sorted((times[text], times[name]))
            unequal = rare <= RARE and common >= COMMON and (times[text] <= times[name] or only_one)
            if column in PEOPLE:
                of_its_kind = len(texts) < FEWEST_OF_A_FIRST_NAME or _REMARK.search(text) is not None
                unequal = unequal or "(" in text or (only_one and _OF_A_FAMILY.isdisjoint(rest))
            else:
                of_its_kind = rests[rest] == 1
            if _says_something(rest, column) and (bare or (unequal and of_its_kind)):
                yield text, name


def _words(name: str) -> Words:
    return tuple(_PART.findall(unicodedata.normalize("NFKC", name).casefold()))


def _inside(
    parts: Words, known: Mapping[Words, str], lengths: Mapping[str, Set[int]]
) -> tuple[tuple[str, ...], Words]:
    """The different names that a cell holds, longest first at each word, and the words that are left.

    lengths : numbers of words of the known names, by their first word
    """
    names: list[str] = []
    rest: list[str] = []
    start = 0
    while start < len(parts):
        for length in sorted(lengths.get(parts[start], ()), reverse=True):
            if length < len(parts) and (words := parts[start : start + length]) in known:
                names.append(known[words])
                start += length
                break
        else:
            rest.append(parts[start])
            start += 1
    return tuple(dict.fromkeys(names)), tuple(rest)


def _says_something(rest: Words, column: str) -> bool:
    """Whether the words beside a name may be a remark: a number, or the letter of a part, makes another name."""
    shortest = 1 if column in PEOPLE else SHORTEST_WORD
    return any(word.isalpha() and len(word) >= shortest for word in rest)


def _is_bare_weight(parts: Iterable[str]) -> bool:
    return all(part in _BARE_WEIGHT or not part.isalpha() for part in parts)
