"""Names that may be one: by a misspelling, a letter for a digit, leading zeros, a side, or an extra word.

Two names are compared only where they share a signature, so that the work grows with the number of names and with
their length, never with its square. What is alike is asked about and never merged.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Mapping

from draincurve.pipeline.reading.cleaning.spelling_keys import plain_letters, spelling_key

FEWEST_LETTERS = 5
"""Names with fewer letters often differ by one ("Al", "Hal"), so they are asked about only where a letter is doubled
or two are swapped."""
FEWEST_OF_A_SLIP = 3
"""Names with fewer letters are never taken as misspelt."""
FEWEST_OF_A_RARE_SLIP = 4
"""Letters of an oil or a spring with a number, which may be misspelt where the name is rare: Tarm 5 beside Tarn 5."""
MOST_OF_A_SLIP = 2
"""Rows with a name that is rare; the other one is twice as common at least."""
SHORTEST_SLIP = 3
"""Shorter words that differ are taken as intended, not as misspelt [letters]."""
MOST_SIMILAR = 20
"""Names with one signature; more of them follow a pattern of the shop and are not misspelt."""
FEWEST_OF_A_PATTERN = 3
"""Numbers in use both bare and with a type, or both bare and with either side; so many are a pattern of the shop."""

_WORD_OR_NUMBER = re.compile(r"([^\W\d_]+)|0*(\d+(?:[._]\d+)*)")
_ONE_WORD_AND_NUMBER = re.compile(r"([^\W\d_]+)0*([1-9]\d*)")
_LEADING_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")
_PRIME, _BASE = (1 << 61) - 1, 1_000_003
_OTHER_SCRIPTS = "\u0430\u0432\u0435\u043a\u043c\u043d\u043e\u0440\u0441\u0442\u0443\u0445\u0456\u0455"  # Cyrillic
_OTHER_SCRIPTS += "\u03b1\u03b2\u03b5\u03b6\u03b7\u03b9\u03ba\u03bc\u03bd\u03bf\u03c1\u03c4\u03c5\u03c7"  # Greek
_IN_LATIN = "abekmh0pctyx1s" + "abezh1kmn0ptyx"
"""Letters that as capitals, or as they are, look like Latin ones."""
_LOOKS_LIKE_A_DIGIT = frozenset("oil" + _OTHER_SCRIPTS)
_CONFUSABLE = str.maketrans("oil" + _OTHER_SCRIPTS, "011" + _IN_LATIN)
_LEFT = frozenset(("left", "links", "gauche", "izquierda", "izquierdo", "izq", "sinistra", "sx", "lh", "li", "l"))
_RIGHT = frozenset(("right", "rechts", "droite", "derecha", "derecho", "der", "destra", "dx", "rh", "re", "r"))
_SIDE = re.compile(rf"(?P<base>.*\d)[._]?(?P<side>{'|'.join(sorted(_LEFT | _RIGHT))})")
_TYPES = {
    **dict.fromkeys(("f", "fork", "forkleg", "leg", "gabel", "fourche", "horquilla", "forcella"), "fork"),
    **dict.fromkeys(("s", "shock", "federbein", "amortisseur", "amortiguador", "ammortizzatore"), "shock"),
}
"""Words for a kind of unit, of which a shop may write the first letter only."""
_SAYS_NO_MORE = {
    "oil_grade": frozenset(
        (
            *("w", "wt", "weight", "sae", "fork", "oil", "forkoil", "fluid", "grade", "gabel", "ol", "öl", "oel"),
            *("gabelöl", "huile", "fourche", "aceite", "horquilla", "olio", "forcella"),
        )
    ),
    "spring_type": frozenset(("spring", "feder", "ressort", "muelle", "molla", "n", "mm", "nmm")),
}
"""Words that may be there or not in a name with a number: 5W, 5wt, SAE 5 and Fork 5 may be one oil."""

_WITH_DECIMALS = frozenset(("oil_grade", "spring_type"))
"""Names in which a decimal point may be lost: 2.5W and 25W, 4.6 and 46."""
_POINT = re.compile(r"[._]")
_POINT_ZERO = re.compile(r"\.0+$")
"""What a spreadsheet puts behind a number that is a name: unit 2.0."""


def near_matches(
    shown: Mapping[str, str], column: str = "", *, times: Mapping[str, int] | None = None
) -> tuple[tuple[str, str], ...]:
    """Pairs of names that may be one, each pair as shown.

    shown : the spelling shown, by spelling key. column : of the contract; some likenesses matter only in some. A
    different digit is never a slip, since units are numbered. times : how often each is
    there, as shown; None where that is not known
    """
    pairs: set[tuple[str, str]] = set()
    first: dict[object, str] = {}
    groups: dict[object, list[str]] = {}

    def add(signature: object, key: str) -> None:
        one = first.setdefault(signature, key)
        if one is not key:  # hardly any signature is that of two names
            groups.setdefault(signature, [one]).append(key)

    looks = any(not _LOOKS_LIKE_A_DIGIT.isdisjoint(key) for key in shown)
    accents = any(not text.isascii() or "&" in text for text in shown.values())
    for key, text in shown.items():
        if accents:
            add(("letters", plain_letters(spelling_key(_as_written(text)))), key)
        for signature in _signatures(key, column=column, keys=shown, looks=looks):
            add(signature, key)
    for signature, keys in groups.items():
        if len(keys) <= MOST_SIMILAR:
            both = ((a, b) for i, a in enumerate(keys) for b in keys[i + 1 :] if a != b)
            pairs.update(
                pair
                for pair in both
                if isinstance(signature, tuple) or _is_slip(*pair, shown=shown, times=times or {})
            )
    if column == "unit_id":
        pairs.update(_with_side(shown))
        pairs.update(_bare_and_typed(shown))
    if column == "oil_grade":
        pairs.update(_grade_and_make(shown))
    return tuple((shown[a], shown[b]) for a, b in sorted({(min(pair), max(pair)) for pair in pairs}))


def _signatures(key: str, *, column: str, keys: Mapping[str, str], looks: bool) -> Iterator[object]:
    """Signatures that names which may be one share: a tuple, or a hash of a text without one of its letters.

    looks : whether any name has a letter that looks like a digit; without one, like looks are like words
    """
    words, numbers = _words(key)
    if numbers:
        yield "words", tuple(sorted(words)), numbers, "+" in key
        if column in _WITH_DECIMALS:
            yield "digits", tuple(sorted(words)), tuple(_POINT.sub("", number).lstrip("0") for number in numbers)
        dropped = _SAYS_NO_MORE.get(column, frozenset())
        if dropped:
            apart = re.findall(r"[^\W\d_]+", keys[key].casefold())
            yield "number", tuple(sorted(word for word in apart if word not in dropped)), numbers
            yield "number", tuple(sorted(word for word in words if word not in dropped)), numbers
        if column == "unit_id":
            yield "whole", tuple(sorted(words)), tuple(_POINT_ZERO.sub("", number) for number in numbers)
        if column == "unit_id" and len(words) == 1 and words[0] in _TYPES:
            yield "type", _TYPES[words[0]], numbers
    if (numbers or column == "unit_id") and looks and not _is_left_beside_right(key, keys):
        yield "looks", _LEADING_ZEROS.sub("", key.translate(_CONFUSABLE))
    fewest = FEWEST_OF_A_RARE_SLIP if column in _WITH_DECIMALS and numbers else FEWEST_LETTERS
    long = sum(map(len, words)) >= fewest and sum(map(str.isalpha, key)) >= fewest
    if long or (key.isalpha() and len(key) >= FEWEST_OF_A_SLIP):
        yield from _without_each_letter(key)


def _as_written(text: str) -> str:
    """The text without what a wrong encoding or a web page made of its letters: JÃ¼rgen and J&uuml;rgen."""
    text = html.unescape(text)
    try:
        return text.encode("cp1252").decode("utf-8")
    except UnicodeError:
        return text


def _words(key: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Words, and numbers without leading zeros, in order of appearance."""
    plain = _ONE_WORD_AND_NUMBER.fullmatch(key)
    if plain is not None:
        return (plain[1],), (plain[2],)
    pieces = _WORD_OR_NUMBER.findall(key)
    return tuple(word for word, _ in pieces if word), tuple(number for _, number in pieces if number)


def _is_left_beside_right(key: str, keys: Mapping[str, str]) -> bool:
    """Whether an l before or behind a number means left, since there is a name with an r in its place."""
    behind = key[-1:] == "l" and key[-2:-1].isdecimal() and f"{key[:-1]}r" in keys
    return behind or (key[:1] == "l" and key[1:2].isdecimal() and f"r{key[1:]}" in keys)


def _without_each_letter(key: str) -> Iterator[int]:
    """A hash of the key, and of the key without each of its letters, from running hashes of its beginning."""
    codes = [ord(mark) + 1 for mark in key]
    before, powers = [0], [1]
    for code in codes:
        before.append((before[-1] * _BASE + code) % _PRIME)
        powers.append(powers[-1] * _BASE % _PRIME)
    yield before[-1]
    length = len(codes)
    for i, mark in enumerate(key):
        if mark.isalpha():
            behind = before[length] - before[i + 1] * powers[length - i - 1]
            yield (before[i] * powers[length - i - 1] + behind) % _PRIME


def _with_side(keys: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Names that differ by how a side is written, or by a side, but not where many are used with and without."""
    by_side: dict[tuple[str, bool], str] = {}
    for key in keys:
        match = _SIDE.fullmatch(key) if key[-1:].isalpha() else None
        if match is not None:
            base = _LEADING_ZEROS.sub("", match["base"])
            side = (base, match["side"] in _LEFT)
            if side in by_side:
                yield by_side[side], key
            by_side.setdefault(side, key)
    bare = {_LEADING_ZEROS.sub("", key): key for key in keys} if by_side else {}
    both = {base for base, left in by_side if left and (base, False) in by_side and base in bare}
    for (base, _), key in by_side.items():
        if base in bare and (base not in both or len(both) < FEWEST_OF_A_PATTERN):
            yield bare[base], key


def _bare_and_typed(keys: Mapping[str, str]) -> list[tuple[str, str]]:
    """Bare numbers and the same with a type in front ("5" and "F5"), but not where many are in use both ways."""
    bare = {_words(key)[1]: key for key in keys if key.isdigit()}
    pairs = []
    for key in keys if bare else ():
        words, numbers = _words(key)
        if len(words) == 1 and words[0] in _TYPES and numbers in bare:
            pairs.append((bare[numbers], key))
    return pairs if len({first for first, _ in pairs}) < FEWEST_OF_A_PATTERN else []


def _grade_and_make(keys: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """A grade without a make and the one make of that number: "SAE 5" and "Tarn 5"."""
    by_number: dict[tuple[str, ...], tuple[list[str], list[str]]] = {}
    for key in keys:
        words, numbers = _words(key)
        if numbers:
            of_a_make = any(word not in _SAYS_NO_MORE["oil_grade"] for word in words)
            by_number.setdefault(numbers, ([], []))[of_a_make].append(key)
    for grades, makes in by_number.values():
        if len(makes) == 1:
            yield from ((grade, makes[0]) for grade in grades)


def _is_slip(a: str, b: str, *, shown: Mapping[str, str], times: Mapping[str, int]) -> bool:
    """Whether two keys differ by one letter, but not by one short word, which is intended: "Rider A", "Rider B".

    Where one of them has fewer letters than a name has that is misspelt, one must be rare and the other more common.
    """
    if not one_letter_apart(a, b):
        return False
    few = min(sum(map(str.isalpha, key)) for key in (a, b)) < FEWEST_LETTERS
    rarer, commoner = sorted(times.get(shown[key], 0) for key in (a, b))
    numbered_and_rare = any(map(str.isdecimal, a)) and 1 <= rarer <= MOST_OF_A_SLIP and commoner >= 2 * rarer
    if few and not numbered_and_rare and not _doubled_or_swapped(a, b):
        return False
    words = [re.split(r"[\W\d_]+", shown[key].casefold()) for key in (a, b)]
    apart = [(x, y) for x, y in zip(*words, strict=False) if x != y]
    return len(words[0]) != len(words[1]) or len(apart) != 1 or max(map(len, apart[0])) >= SHORTEST_SLIP


def _doubled_or_swapped(a: str, b: str) -> bool:
    """Whether keys that are one letter apart have the same letters, but for one that is doubled in one of them."""
    short, long = sorted((a, b), key=len)
    if len(short) == len(long):
        return sorted(short) == sorted(long)
    return any(short == long[:i] + long[i + 1 :] and long[i] == long[i + 1] for i in range(len(short)))


def one_letter_apart(a: str, b: str) -> bool:
    """Whether one letter is added, missing or different, or two neighbours are swapped; digits are equal."""
    short, long = sorted((a, b), key=len)
    start = next((i for i, (x, y) in enumerate(zip(short, long, strict=False)) if x != y), len(short))
    if len(short) == len(long):
        x, y = short[start:], long[start:]
        one = x[1:] == y[1:] and x[:1].isalpha() and y[:1].isalpha()
        swapped = x[:2] == y[:2][::-1] and x[2:] == y[2:] and x[:2].isalpha()
        return one or swapped
    return len(long) - len(short) == 1 and short[start:] == long[start + 1 :] and long[start].isalpha()
