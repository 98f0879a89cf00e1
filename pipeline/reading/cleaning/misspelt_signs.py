"""Words of a note that are a sign with a slip of the pen: milkey, siezed, brokken. They are asked about."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache

from draincurve.pipeline.reading.cleaning.name_similarity import one_letter_apart
from draincurve.pipeline.reading.cleaning.safety_words import PLAIN
from draincurve.pipeline.reading.cleaning.unsure_words import UNSURE

FEWEST_LETTERS = 5
FEWEST_WITH_ONE_LESS = 6
FEWEST_WITHOUT_THE_LAST = 7
"""Letters of a sign; with a letter less, or another vowel, a shorter one is too often some other word."""

_INFLECTED = {
    "burnt": "burnt burned",
    "leak": "leaking leaked leakage weeping dripping seeping",
    "warned": "cracked pitted scratched snapped rattle rattling clunking creaking knocking grinding squeaking seized",
}
"""Forms that the lists of signs have as a stem only."""
_OTHER_WORDS = frozenset(
    (
        *("banding", "bending", "biding", "bonding", "clinking", "cricked", "dipping", "dropping", "fakes", "griped"),
        *(
            "insect",
            "leading",
            "loosen",
            "loosed",
            "potted",
            "score",
            "scores",
            "scared",
            "seeing",
            "silvers",
            "sized",
        ),
        *("snipped", "stacking", "stocking", "struck", "bindung", "emuliert", "geriet", "heule", "krater", "recht"),
        *("reicht", "satte", "schott", "schritt", "schrot", "stickig", "verbannt", "imputa", "perde", "perdete"),
        *("perita", "perite", "piede", "predite", "sceglie", "traila", "chitarra", "misture"),
    )
)
"""Words of the five languages that are one letter from a sign and mean something else."""
_WATER = ("water", "wasser", "eau", "agua", "acqua")
IN_THE_OIL = (
    r"\w+ (?:in|im|en|dans|nell?)\b[ ']?(?:the |dem |el |l')?(?:gabel|fork )?(?:oil|öl|oel|ol|aceite|huile|olio)\b"
)
"""What is in the oil: with a slip of the pen, too, it is water."""
_IN_THE_OIL = re.compile(IN_THE_OIL.replace(r"\w+", r"\b(?P<word>[^\W\d_]+)", 1))
_VOWELS = "aeiouy"
_WORD = re.compile(r"[^\W\d_]+")


def _signs() -> dict[str, str]:
    """Sign by word, for the words of the lists that are written out in full."""
    listed = {
        part.removesuffix("\\b"): sign
        for words in (UNSURE, PLAIN)
        for sign, parts in words.items()
        for part in parts
        if part.removesuffix("\\b").isalpha()
    }
    inflected = {word: sign for sign, words in _INFLECTED.items() for word in words.split()}
    return {word: sign for word, sign in (listed | inflected).items() if len(word) >= FEWEST_LETTERS}


def _slips(word: str) -> Iterator[str]:
    """The word with one slip behind its first letter."""
    for place in range(1, len(word) - 1):
        before, letter, behind = word[:place], word[place], word[place + 1 :]
        if place < len(word) - 2 or len(word) >= FEWEST_WITH_ONE_LESS:
            yield before + behind[0] + letter + behind[1:]
        yield before + letter + letter + behind
        yield from (before + vowel + letter + behind for vowel in _VOWELS)
        if len(word) >= FEWEST_WITH_ONE_LESS:
            yield before + behind
            yield from (before + vowel + behind for vowel in _VOWELS if letter in _VOWELS)
    yield from (word[:-1] + vowel + word[-1] for vowel in _VOWELS)
    yield word + word[-1]
    if len(word) >= FEWEST_WITHOUT_THE_LAST:
        yield word[:-1]


@cache
def misspelt_signs() -> Mapping[str, str]:
    """Sign by misspelt word, in small letters."""
    signs = _signs()
    right = signs.keys() | _OTHER_WORDS
    return {slip: sign for word, sign in signs.items() for slip in _slips(word) if slip not in right}


def misspelt_in(clause: str) -> dict[str, re.Match[str]]:
    """The first misspelt word of each sign in a clause in small letters."""
    found: dict[str, re.Match[str]] = {}
    for match in _IN_THE_OIL.finditer(clause):
        if any(one_letter_apart(match["word"], word) for word in _WATER):
            found.setdefault("milky", match)
    for match in _WORD.finditer(clause):
        sign = misspelt_signs().get(match.group())
        if sign is not None:
            found.setdefault(sign, match)
    return found
