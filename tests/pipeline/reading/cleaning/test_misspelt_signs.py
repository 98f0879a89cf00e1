"""Signs with a slip of the pen are asked about; words of their own are not."""

from __future__ import annotations

import pytest

from draincurve.pipeline.reading.cleaning.misspelt_signs import misspelt_in
from draincurve.pipeline.reading.cleaning.note_signs import signs_of_note

SLIPS = {
    "milky": (
        "wather in the oil",
        "watter in oil",
        "Waser im Öl",
        "aqua en el aceite",
        "milkey oil",
        "oil mikly",
        "Öl milchg",
    ),
    "leak": ("leakin at the cap", "seal weepping", "undcht", "undihct", "leakd", "perditta", "fuitte"),
    "burnt": ("burntt", "Öl verbrant"),
    "warned": ("siezed", "brokken spring", "damper binidng", "bush rattel", "flakkes in tray"),
}


@pytest.mark.parametrize(("sign", "note"), [(sign, note) for sign, notes in SLIPS.items() for note in notes])
def test_a_slip_of_the_pen_is_asked_about(sign: str, note: str) -> None:
    signs = signs_of_note(note)
    assert (sign in signs.plain, sign in signs.unsure) == (False, True)


@pytest.mark.parametrize(
    "note",
    [
        *(
            "recht gut",
            "seeing it again in May",
            "insect screen",
            "new bonding agent",
            "stacking shims",
            "air in the oil",
            "sized bush",
        ),
        *(
            "leading edge",
            "score 3",
            "potted sensor",
            "dipping the rod",
            "zwei Schritte",
            "piedino pulito",
            "all good",
        ),
    ],
)
def test_a_word_of_its_own_is_no_slip(note: str) -> None:
    assert misspelt_in(note.casefold()) == {}


def test_a_slip_can_be_denied_or_said_to_be_gone() -> None:
    assert signs_of_note("not siezed").unsure == {}
    assert "warned" in signs_of_note("siezed damper replaced").gone


@pytest.mark.parametrize("note", ["Späne im Öl", "Spaene im Oel", "Spane im Ol", "SPA\u0308NE"])
def test_accents_may_be_typed_or_not(note: str) -> None:
    signs = signs_of_note(note)
    assert signs.unsure.keys() == {"warned"}
    assert signs.unsure["warned"] == note.split()[0].casefold().replace("a\u0308", "ä"), "as it was typed"
