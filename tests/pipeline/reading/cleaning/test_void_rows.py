"""Rows that their writer has taken back in words are held back."""

import pytest


@pytest.mark.parametrize(
    "word", ["void", "Cancelled", "deleted!", "storniert", "planned", "annulé", "typed twice", "example row"]
)
def test_a_word_in_a_column_of_its_own(check, word: str) -> None:
    header = "note" if word in ("typed twice", "example row") else "state"
    rows = [{"drained_on": f"2026-0{month}-04", header: "ok"} for month in (1, 2)]
    log = check(*rows, {"drained_on": "2026-03-04", header: word})
    assert log.held_back.select("line", "column", "value").rows() == [(4, header, word)]
    assert "delete the row" in log.held_back["reason"].item()


@pytest.mark.parametrize("note", ["VOID - see below", "wrong unit, see F02", "deleted: F02 meant", "(storniert)"])
def test_the_beginning_of_a_note(check, note: str) -> None:
    log = check({"note": note}, {"drained_on": "2026-04-04", "note": ""})
    assert log.held_back.select("line", "column").rows() == [(2, "note")]


def test_other_notes_are_notes(check) -> None:
    notes = (
        "planned for Sunday",
        "no void in the seal",
        "ignored the noise",
        "right unit",
        "wrong way round before",
        "example of bad seals",
        "ok",
    )
    days = [f"2026-03-{day:02d}" for day, _ in enumerate(notes, 1)]
    rows = [{"drained_on": day, "note": note, "who typed": note} for day, note in zip(days, notes, strict=True)]
    assert check(*rows).held_back_count == 0
