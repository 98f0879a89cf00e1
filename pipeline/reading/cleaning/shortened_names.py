"""Names that may be one by a short form: T. Wend and TW beside Tarek Wend, P46 and Pl. 46 beside Plain 46."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from draincurve.pipeline.reading.cleaning.name_similarity import MOST_SIMILAR

MOST_INITIALS = 3
"""Letters of a name that may be initials alone."""

_WORD = re.compile(r"[^\W\d_]+")
_NUMBER = re.compile(r"\d+(?:[.,]\d+)*")

Words = tuple[str, ...]


def shortened_names(names: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Pairs of names of which one may be a short form of the other, or has its words the other way round.

    A single letter is asked about only where one name alone begins with it.
    """
    groups: dict[object, list[tuple[str, Words]]] = {}
    for name in names:
        words = tuple(_WORD.findall(name.casefold()))
        if len(words) == 1 and name.isupper() and len(words[0]) <= MOST_INITIALS:
            words = tuple(words[0])
        if words and not any(mark.isdigit() for mark in name):
            for signature in _signatures(words):
                groups.setdefault(signature, []).append((name, words))
    pairs: dict[tuple[str, str], None] = {}
    for signature, alike in groups.items():
        most = 2 if isinstance(signature, str) and len(signature) == 1 else MOST_SIMILAR
        for position, (name, words) in enumerate(alike if len(alike) <= most else ()):
            pairs |= {(name, one): None for one, others in alike[position + 1 :] if _may_be_one(words, others)}
    return tuple(pairs)


def shortened_kinds(names: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Pairs of oils or springs with the same numbers, of which each word of one begins a word of the other."""
    groups: dict[object, list[tuple[str, Words]]] = {}
    for name in names:
        words, numbers = tuple(_WORD.findall(name.casefold())), tuple(_NUMBER.findall(name))
        if words and numbers:
            groups.setdefault(("".join(word[0] for word in words), numbers), []).append((name, words))
    return tuple(
        (name, one)
        for alike in groups.values()
        if len(alike) <= MOST_SIMILAR
        for position, (name, words) in enumerate(alike)
        for one, others in alike[position + 1 :]
        if words != others and all(a.startswith(b) or b.startswith(a) for a, b in zip(words, others, strict=True))
    )


def _signatures(words: Words) -> Iterator[object]:
    """What names share that are compared: initials, or initials in any order with a whole word."""
    initials = "".join(word[0] for word in words)
    yield initials
    if len(words) > 1:
        yield from (("".join(sorted(initials)), word) for word in dict.fromkeys(words) if len(word) > 1)


def _may_be_one(first: Words, second: Words) -> bool:
    return _fits(first, second) or _fits(first, second[::-1])


def _fits(first: Words, second: Words) -> bool:
    """Whether each word is the other name's, or its initial."""
    pairs = zip(first, second, strict=True)
    return all(a == b or (a[0] == b[0] and min(len(a), len(b)) == 1) for a, b in pairs)
