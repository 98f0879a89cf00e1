"""A note that a part is missing is asked about, in five languages."""

import pytest

from draincurve.pipeline.reading.cleaning.note_signs import signs_of_note


@pytest.mark.parametrize(
    "note",
    [
        *("dust seal missing", "lost circlip", "top cap bolt lost", "Staubkappe fehlt", "Federclip verloren"),
        *("es fehlt die Schraube", "joint spi manquant", "il manque une vis", "cache-poussière absent"),
        *("falta el guardapolvo", "tornillo perdido", "sin tornillo", "manca il parapolvere", "vite mancante"),
    ],
)
def test_a_missing_part_is_asked_about(note: str) -> None:
    assert "warned" in signs_of_note(note).possible


@pytest.mark.parametrize(
    "note",
    [
        "no clip missing",
        "keine Schraube fehlt",
        "lost an hour",
        "rider missed a gear",
        "Fahrer fehlt",
        "sin problemas",
    ],
)
def test_other_notes_are_not(note: str) -> None:
    assert not signs_of_note(note).plain
    assert not signs_of_note(note).unsure
