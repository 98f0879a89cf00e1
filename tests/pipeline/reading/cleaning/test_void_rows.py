"""Rows that their writer has taken back in words are held back."""

import pytest

NO_COUNT = (
    *("please ignore", "Do not count!", "don’t count", "nicht werten", "zählt nicht", "ne pas compter", "à ignorer"),
    *(
        "da ignorare",
        "double entry",
        "copy of line above",
        "doublon",
        "duplicado",
        "mauvaise fourche",
        "F02 meant, ignore",
        *("wrong - see next line", "falsch, siehe nächste Zeile", "Fehler!", "error: see line 7"),
        *("superseded by line 7", "corrected in the next row", "remplacée par la ligne 8"),
    ),
)
NO_DRAIN = (
    *("not a drain", "topped up only", "only filled up", "nur Öl aufgefüllt, nicht gewechselt", "kein Ölwechsel"),
    *("huile pas changée", "l’huile n’est pas changée", "olio non cambiato", "appoint seulement", "sólo rellenado"),
    *("new seal, oil not changed", "solo rabbocco", "topped up 50 ml only", "nur 30 ml nachgefüllt"),
    *("only topped up by 20 ml", "50 ml nachgefüllt, sonst nichts"),
)


@pytest.mark.parametrize(
    "word", ["void", "Cancelled", "deleted!", "storniert", "planned", "annulé", "typed twice", "example row"]
)
def test_a_word_in_a_column_of_its_own(check, word: str) -> None:
    header = "note" if word in ("typed twice", "example row") else "state"
    rows = [{"drained_on": f"2026-0{month}-04", header: "ok"} for month in (1, 2)]
    log = check(*rows, {"drained_on": "2026-03-04", header: word})
    assert log.held_back.select("line", "column", "value").rows() == [(4, header, word)]
    assert "delete the row" in log.held_back["reason"].item()


@pytest.mark.parametrize(
    "note", ["VOID - see below", "wrong unit, see F02", "deleted: F02 meant", "(storniert)", *NO_COUNT]
)
def test_the_beginning_of_a_note(check, note: str) -> None:
    log = check({"note": note}, {"drained_on": "2026-04-04", "note": ""})
    assert log.held_back.select("line", "column").rows() == [(2, "note")]


def test_other_notes_are_notes(check) -> None:
    notes = (
        "planned for Sunday",
        "no void in the seal",
        *("wrong tyre pressure", "error code on the dash", "see next sheet for settings", "replaced by a new rider"),
        *("corrected the sag", "topped up brake fluid, 20 ml", "mal sehen"),
        "ignored the noise",
        "right unit",
        "wrong way round before",
        "example of bad seals",
        "ok",
        "do not count on it",
        "ignore the scratch",
        "copy of the key",
        "seals not changed",
        "oil not changed colour",
        "only filled up to 500 ml",
        "topped up after the test",
        "no change in sound",
        "no drain plug",
    )
    days = [f"2026-03-{day:02d}" for day, _ in enumerate(notes, 1)]
    rows = [{"drained_on": day, "note": note, "who typed": note} for day, note in zip(days, notes, strict=True)]
    assert check(*rows).held_back_count == 0


@pytest.mark.parametrize("note", NO_DRAIN)
def test_a_note_that_no_oil_was_changed_holds_its_row_back_unless_it_is_entered_as_a_top_up(check, note: str) -> None:
    rows = [
        {"drained_on": f"2026-0{month}-04", "service_kind": kind, "note": note}
        for month, kind in enumerate(("oil", "", "top-up"), 1)
    ]
    log = check(*rows)
    assert log.held_back.select("line", "column").rows() == [(2, "note"), (3, "note")]
    assert log.held_back["reason"].str.contains("write top-up under service_kind").all()
