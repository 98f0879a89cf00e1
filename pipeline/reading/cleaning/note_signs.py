"""Signs in notes that call for an inspection: plain ones count as if they were ticked, others are asked about."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.reading.cleaning.denials import DENIED, GOES_ON, denial_of
from draincurve.pipeline.reading.cleaning.misspelt_signs import IN_THE_OIL, misspelt_in, misspelt_signs
from draincurve.pipeline.reading.cleaning.safety_words import DENIED_BEHIND, DOUBTED, INSPECT_NOW, PLAIN, SETTLED
from draincurve.pipeline.reading.cleaning.spelling_keys import plain_letters
from draincurve.pipeline.reading.cleaning.unsure_words import UNSURE
from draincurve.pipeline.reading.cleaning.working_table import row_findings
from draincurve.schemas.columns import SIGNS

NOTE_SIGNS = (*SIGNS, "warned")
"""What a note may say: the signs that have a column, and any other warning."""
NOTE_SIGN_COLUMNS = tuple(f"note_{sign}" if sign in SIGNS else sign for sign in NOTE_SIGNS)
"""Columns of signs in the note, beside the column of the sign itself."""
SIGNS_IN_QUESTION = "signs_in_question"
"""Column that names the signs that a note may mean and that nobody has answered yet."""

_POSSIBLE = {sign: f"possible_{sign}" for sign in NOTE_SIGNS}
Span = tuple[int, int]
_REST_OF_WORD = re.compile(r"^\w*")
_TYPED_WORD = re.compile(r"[\w'-]+")
_CLAUSE = re.compile(rf"[.;!\n,()/]++{GOES_ON}|\b(?:but|and|aber|und|mais|et|pero|pero|ma)\b")


def _any_of(words: dict[str, tuple[str, ...]]) -> dict[str, re.Pattern[str]]:
    return {sign: re.compile(rf"(?<!\w)(?:{plain_letters('|'.join(parts))})") for sign, parts in words.items()}


_PLAIN, _UNSURE = _any_of(PLAIN), _any_of(UNSURE)
_DENIED, _DENIED_BEHIND, _SETTLED, _DOUBTED = (
    frozenset(plain_letters(words).split()) for words in (DENIED, DENIED_BEHIND, SETTLED, DOUBTED)
)
_LOOK_AROUND = re.compile(r"\(\?<?[!=](?:[^()]|\([^()]*\))*\)")
_ANY = plain_letters(
    "|".join(_LOOK_AROUND.sub("", part) for words in (PLAIN, UNSURE) for parts in words.values() for part in parts)
)
"""Finds every note that may have a sign, and a few more: polars knows no look-around."""


@dataclass(frozen=True, slots=True)
class NoteSigns:
    """What a note says: the words of each sign that is plain, and of each that is unsure.

    gone : signs that it says are gone
    """

    plain: dict[str, str]
    unsure: dict[str, str]
    gone: frozenset[str]

    @property
    def possible(self) -> frozenset[str]:
        """Signs that count until they are answered."""
        return frozenset(self.unsure) - self.gone


def with_note_signs(parsed: pl.DataFrame) -> pl.DataFrame:
    """Drains in which a sign that a note says, or may mean, counts as entered.

    A blank means no where the log ticks a sign and never writes no to it; else it is unknown.
    """
    signs = []
    for sign in SIGNS:
        typed = parsed[sign]
        entered = pl.col(sign).fill_null(False) if typed.any() and typed.all() else pl.col(sign)
        signs.append(pl.when(f"note_{sign}").then(True).otherwise(entered).alias(sign))
    return parsed.with_columns(signs).drop(f"note_{sign}" for sign in SIGNS)


def signs_of_note(note: str) -> NoteSigns:
    """The signs in one note. Of several mentions of one sign the plainest counts."""
    plain: dict[str, str] = {}
    unsure: dict[str, str] = {}
    gone = set()
    for typed in _CLAUSE.split(unicodedata.normalize("NFC", note).casefold().replace("’", "'")):
        clause, misspelt = plain_letters(typed), misspelt_in(typed)
        for sign in NOTE_SIGNS:
            denied = -1
            for (start, end), sure in _mentions(sign, clause, misspelt=_span_in(typed, misspelt.get(sign))):
                denial = denial_of(clause, start, end)
                if denial == "sure" or clause[denied:start] == " ":  # no grinding noise
                    denied = end
                    continue
                words, before, behind = _words_typed(typed, clause, (start, end)), clause[:start], clause[end:]
                if sure and denial == "none" and not _is_doubtful(before, behind):
                    plain.setdefault(sign, words)
                    continue
                unsure.setdefault(sign, words)
                if "?" not in clause and _is_settled(before, behind):
                    gone.add(sign)
    return NoteSigns(plain, {sign: words for sign, words in unsure.items() if sign not in plain}, frozenset(gone))


def note_signs(
    notes: pl.Series, entered: pl.DataFrame, *, rows: pl.Series
) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """Columns note_leak, note_milky, note_burnt and warned (Boolean, shape (n,)), signs_in_question, and questions.

    warned is false only where the note of a confirmed row says that what was warned of is gone, else null.

    notes : String, shape (n,). entered : the columns milky, burnt, leak and confirmed of the same rows; a sign
    that is entered, or a row that is confirmed, is not asked about. rows : `_row` of each. What a note may mean
    counts until it is answered, unless the note says that it is gone.
    """
    texts = notes.unique(maintain_order=True)
    small = texts.str.normalize("NFC").str.to_lowercase().str.replace_all("’", "'", literal=True)
    letters = small.str.normalize("NFD").str.replace_all(r"\p{M}", "").str.replace_all("([aou])e", "$1")
    misspelt = small.str.contains(IN_THE_OIL) | small.str.contains_any(list(misspelt_signs()))
    may_have_sign = (letters.str.contains(_ANY) | misspelt).fill_null(False)
    read = {note: signs_of_note(note) for note in texts.filter(may_have_sign)}
    plain = {note: tuple(sign in signs.plain for sign in NOTE_SIGNS) for note, signs in read.items()}
    possible = {note: tuple(sign in signs.possible for sign in NOTE_SIGNS) for note, signs in read.items()}
    gone = [note for note, signs in read.items() if "warned" in signs.gone - signs.plain.keys()]
    about = pl.DataFrame(
        [(note, *plain[note], *possible[note]) for note in read],
        schema={"note": pl.String} | dict.fromkeys((*NOTE_SIGN_COLUMNS, *_POSSIBLE.values()), pl.Boolean),
        orient="row",
    )
    joined = entered.with_columns(notes.alias("note")).join(about, on="note", how="left", maintain_order="left")
    is_open = {sign: ~pl.col("confirmed").fill_null(False) & _is_blank(sign) for sign in NOTE_SIGNS}
    asked = {sign: pl.col(_POSSIBLE[sign]).fill_null(False) & is_open[sign] for sign in NOTE_SIGNS}
    names = [pl.when(asked[sign]).then(pl.lit(sign)) for sign in NOTE_SIGNS]
    said = {
        name: pl.col(name).fill_null(False) | asked[sign]
        for sign, name in zip(NOTE_SIGNS, NOTE_SIGN_COLUMNS, strict=True)
    }
    mended = pl.col("note").is_in(gone) & pl.col("confirmed")
    said["warned"] = pl.when(said["warned"]).then(True).when(mended).then(False)
    columns = joined.select(
        **said,
        **{SIGNS_IN_QUESTION: pl.concat_str(names, separator=",", ignore_nulls=True).replace("", None)},
    )
    if not read:
        return columns, []
    findings = []
    entered = entered.with_columns(rows.alias("_row"), notes.alias("note"))
    for note, signs in read.items():
        here = entered.filter((pl.col("note") == note) & ~pl.col("confirmed").fill_null(False))
        findings += [_finding(here, sign, words=words, plain=True) for sign, words in signs.plain.items()]
        findings += [
            _finding(here, sign, words=words, plain=False, gone=sign in signs.gone)
            for sign, words in signs.unsure.items()
        ]
    return columns, findings


def _is_blank(sign: str) -> pl.Expr:
    """Whether nothing is entered under a sign; a warning has no column of its own."""
    return pl.col(sign).is_null() if sign in SIGNS else pl.lit(True)


def _finding(rows: pl.DataFrame, sign: str, *, words: str, plain: bool, gone: bool = False) -> pl.DataFrame:
    """The finding about the rows of one note. A plain sign with a column has its own question later."""
    if sign not in SIGNS:
        yes = "write yes in a column headed confirmed"
        unsure = f"is it gone? If so, {yes}" if gone else f"inspect now? If there is no need, {yes}"
        message = f"warning in the note, '{words}': " + (INSPECT_NOW if plain else unsure)
        return row_findings(rows, "note", kind="asked", message=message)
    about = rows.filter(pl.col(sign).is_null()).drop(sign).rename({"note": sign})
    if plain:
        return row_findings(about, sign, kind="note", message=f"'{words}' in the note is read as {sign}: yes")
    message = f"'{words}' in the note: inspect now? Write yes or no under {sign}"
    return row_findings(about, sign, kind="asked", message=message)


def _mentions(sign: str, clause: str, *, misspelt: Span | None) -> Iterator[tuple[Span, bool]]:
    """Each place of a clause that may be a sign, up to the end of its word, and whether it is plain there."""
    plain, unsure = (
        [(match.start(), match.end() + len(_REST_OF_WORD.findall(clause[match.end() :])[0])) for match in found]
        for found in (_PLAIN[sign].finditer(clause), _UNSURE[sign].finditer(clause))
    )
    yield from ((span, True) for span in plain)
    yield from ((span, False) for span in unsure if not any(start <= span[0] < end for start, end in plain))
    if misspelt is not None:
        yield misspelt, False


def _span_in(typed: str, match: re.Match[str] | None) -> Span | None:
    """Where the words of a match stand once accents are gone."""
    return match and (len(plain_letters(typed[: match.start()])), len(plain_letters(typed[: match.end()])))


def _is_doubtful(before: str, behind: str) -> bool:
    """Whether what stands around a sign doubts it, or says that it is gone."""
    words = _TYPED_WORD.findall(behind)
    if words[:1] and words[0] in _DENIED_BEHIND and _SETTLED.isdisjoint(words):
        return True
    doubted = "?" in before + behind or not _DOUBTED.isdisjoint(_TYPED_WORD.findall(before) + words)
    return doubted or _is_settled(before, behind)


def _is_settled(before: str, behind: str) -> bool:
    """Whether what stands around a sign says that it is gone, and does not deny that."""
    words = _TYPED_WORD.findall(behind)
    settled = [position for position, word in enumerate(words) if word in _SETTLED]
    denied = bool(settled) and not _DENIED.isdisjoint(words[: settled[0]])
    return (bool(settled) and not denied) or not _SETTLED.isdisjoint(_TYPED_WORD.findall(before))


def _words_typed(typed: str, clause: str, span: Span) -> str:
    """The words of a sign as they were typed; clause : the same words without accents, in which it was found."""
    places = [word.span() for word in _TYPED_WORD.finditer(clause)]
    words = [word.group() for word in _TYPED_WORD.finditer(typed)]
    return " ".join(
        word for word, (start, end) in zip(words, places, strict=True) if start < span[1] and end > span[0]
    ).strip("'")
