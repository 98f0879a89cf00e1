"""A note that contradicts a cell of its row is not passed over."""

from datetime import date, timedelta

import polars as pl
import pytest

DAYS = [{"drained_on": f"2026-0{month}-04"} for month in range(1, 4)]


def noted(*notes: str) -> list[dict]:
    """A row for each note, after three without one."""
    first = date(2026, 4, 4)
    return DAYS + [{"drained_on": f"{first + timedelta(day)}", "note": note} for day, note in enumerate(notes)]


CORRECTIONS = (
    "actually 24 h",
    "Debris is wrong",
    "should be debris 4",
    "should have been 12.5 h",
    "seals ok; date wrong, was a week later",
    "this was F03 not F01",
    "was 46, not 44",
    "eigentlich 14 Stunden",
    "Datum falsch",
    "la date est fausse",
    "fecha incorrecta",
    "data sbagliata",
    "Einheit nicht richtig",
    "hours in minutes",
    "Stunden in Minuten",
    "minutes!",
    "= 900 min",
    "typo in hours",
    "Tippfehler bei Stunden",
    "richtig 15 h",
    "hours maybe 15",
    "Farbe eher 4",
    "colour 3 really",
    "wrong oil filled last time (Tarn 10)",
    "falsches Öl eingefüllt",
    "hours are of the whole bike",
    "odometer hours",
    "Zählerstand",
    "heures du compteur",
    "h total",
    "colour is 4 not 2",
    "oil was Tarn 7 actually",
    "belongs to F02",
    "hours are for both legs",
    "Stunden seit Überholung",
    "hours since the last rebuild",
    "gehört zu F02",
    "c’est F02",
)


CHANGED_BETWEEN = (
    *("oil changed in between at the track", "changed the oil halfway", "Öl zwischendurch gewechselt"),
    *("extra oil change at the track not logged", "one change not logged", "missed an entry before this"),
    *("forgot to log the last change", "letzter Wechsel nicht eingetragen", "vidange non notée entre-temps"),
    *("cambio de aceite intermedio sin anotar", "cambio olio non è stato registrato", "drain had not been recorded"),
)
OTHER_CHANGES = (
    *("changed oil between races", "no change noted", "changed the spring in between", "oil changed at the track"),
    *("changed oil, photo taken in between", "extra oil change before the race", "oil changed twice to flush it"),
    *("normaler Wechsel", "Öl gewechselt", "next change not yet planned", "drained both forks together"),
    *("picture of the oil in the folder", "checked the meter", "both legs dry", "hours good"),
)


def test_a_note_of_a_change_without_a_row_holds_its_row_back(check) -> None:
    log = check(*noted(*CHANGED_BETWEEN))
    held = log.held_back.sort("line").select("line", "column", "value").rows()
    assert held == [(line, "note", note) for line, note in enumerate(CHANGED_BETWEEN, 5)]
    assert log.held_back["reason"].str.contains("oil was changed in between").all()


def test_notes_of_this_change_of_oil_hold_nothing_back(check) -> None:
    log = check(*noted(*OTHER_CHANGES))
    assert log.held_back.height == 0


def test_a_note_that_corrects_a_cell_holds_its_row_back(check) -> None:
    log = check(*noted(*CORRECTIONS))
    held = log.held_back.sort("line").select("line", "column", "value").rows()
    assert held == [(line, "note", note) for line, note in enumerate(CORRECTIONS, 5)]
    assert log.held_back["reason"].str.contains("correct that cell").all()


OTHER_NOTES = (
    "actually looked fine",
    "should be changed at 10 h next time",
    "should be ok",
    "fork leg wrong way round, turned",
    "wrong oil in the shop, ordered more",
    "not the right day for it",
    "was 3 laps only",
    "pressure should be 10 psi",
    "really 3 bad ruts",
    "date of the race: 12 May",
    "15 min to settle",
    "belongs to the spare bike",
    "hours maybe too long",
    "Farbe eher dunkel",
    "richtig gut",
    "oil was 3 h old",
    "correct oil",
    "this is fine",
    "meter hours 312 at the drain",
    "total hours on the engine rebuild: 80",
    "can we change at 20 h?",
)


def test_other_notes_are_notes(check) -> None:
    log = check(*noted(*OTHER_NOTES))
    assert log.held_back_count == 0
    assert log.assumed.is_empty()


def test_hours_that_a_note_calls_rough_are_an_assumption(check) -> None:
    rough = (
        "hours guessed",
        "Hours: estimated",
        "guessed hours",
        "Stunden geschätzt",
        "heures estimées",
        "ore stimate",
    )
    log = check(*noted(*rough))
    assert log.held_back_count == 0
    assumed = log.assumed.sort("line").select("line", "column").rows()
    assert assumed == [(line, "oil_hours") for line, _ in enumerate(rough, 5)]


def rows(*units_and_notes: tuple[str, str]) -> list[dict]:
    return [
        {"drained_on": f"2026-03-{day:02d}", "unit_id": unit, "note": note}
        for day, (unit, note) in enumerate(units_and_notes, 1)
    ]


@pytest.mark.parametrize(
    "note", ["was F02", "formerly F-02", "ex F02, new stickers", "früher F02", "umbenannt von f02"]
)
def test_a_former_name_of_a_unit_is_asked_about(check, note: str) -> None:
    log = check(*rows(("F02", ""), ("F07", ""), ("F02", ""), ("Blue leg", note), ("Blue leg", "")))
    assert log.similar_names["unit_id"] == (("Blue leg", "F02"),)
    assert log.asked.filter(column="unit_id")["message"].str.contains("one?", literal=True).sum() == 1


@pytest.mark.parametrize("note", ["was F02", "seals from F02", "was muddy", "was F99", "swapped with F02"])
def test_a_unit_that_goes_on_under_its_name_was_not_renamed(check, note: str) -> None:
    log = check(*rows(("F02", ""), ("F07", note), ("F02", ""), ("F07", "")))
    assert log.similar_names["unit_id"] == ()
    assert log.asked.filter(pl.col("column") == "unit_id").is_empty()
