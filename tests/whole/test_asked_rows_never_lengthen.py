"""A row that is asked about is counted on the first screen and lengthens no interval until it is answered."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from decided_logs import FEW_DRAWS, checked, intervals, never_longer
from small_logs import AS_OF, drain, run_program, simple_log, write_rows

from draincurve.pipeline.reading import Log

HOURS = (9.0, 14.5)


def asks(log: Log, question: str) -> bool:
    return any(question in message for message in log.asked["message"])


@pytest.fixture(scope="module")
def fleet() -> list[dict]:
    return simple_log(4, 8, hours=HOURS)


@pytest.fixture(scope="module")
def known(fleet) -> dict[str, float]:
    """The intervals of the fleet without any row to ask about."""
    return intervals(checked(fleet))


def clean_drains(cells: list[object], **more: object) -> list[dict]:
    """One clean drain for each cell of hours, each in a unit of its own order, before all others of the log."""

    first = date(2026, 1, 5)
    return [
        drain(f"U{1 + at % 4:02d}", first + timedelta(days=at), 12.0, 1, 1) | {"oil_hours": cell} | more
        for at, cell in enumerate(cells)
    ]


@pytest.mark.parametrize(
    "cells",
    [["750"], ["750", "690", "840", "605"], ["0.520833"], ["0.4375", "0.6", "0.52"], ["31.5", "40"], ["4.4", "3"]],
    ids=["minutes", "several in minutes", "part of a day", "several parts of a day", "too long", "too short"],
)
def test_clean_fills_with_suspicious_hours(fleet, known, cells: list[str]) -> None:
    log = checked([*fleet, *clean_drains(cells)])
    assert log.faulty_count == 0
    assert log.asked.height == log.asked_rows == len(cells)
    never_longer(intervals(log), known)


@pytest.mark.parametrize("pair", [("0.485", "0.47"), ("48", "47"), ("4850", "4700")])
def test_clean_fills_with_suspicious_volumes(fleet, pair: tuple[str, str]) -> None:
    rows = [row | {"filled_ml": 485, "drained_ml": 475} for row in fleet]
    known = intervals(checked(rows))
    slips = [row | {"oil_hours": 12} for row in clean_drains(["12", "12"], filled_ml=pair[0], drained_ml=pair[1])]
    log = checked([*rows, *slips])
    assert log.asked.height >= 2
    never_longer(intervals(log), known)


def test_a_confirmed_fill_counts(fleet, known) -> None:
    log = checked([*fleet, *clean_drains(["31.5", "33"], confirmed="yes")])
    assert log.asked.height == 0
    assert intervals(log) != known


def test_readings_of_meters_in_the_column_of_hours(fleet) -> None:
    meters, started = [], {}
    for row in sorted(fleet, key=lambda row: row["drained_on"]):
        started[row["unit_id"]] = started.get(row["unit_id"], 40.0) + row["oil_hours"]
        meters.append(row | {"oil_hours": started[row["unit_id"]]})
    log = checked(meters)
    assert log.faulty_count == 0
    assert asks(log, "are they meter readings?")
    assert list(intervals(log).values()) == [0.0] * 4
    settings = replace(FEW_DRAWS, headers={"meter_hours": ("oil_hours",)})
    answered = checked(meters, settings)
    assert not asks(answered, "are they meter readings?")
    assert 0 < max(intervals(answered, settings).values()) < 20


@pytest.mark.parametrize("turned", [("colour",), ("debris",), ("colour", "debris")], ids=" and ".join)
def test_a_scale_that_runs_the_other_way(fleet_of_many_hours, turned: tuple[str, ...]) -> None:
    right, known = fleet_of_many_hours
    rows = [row | {f"{name}_rating": 6 - row[f"{name}_rating"] for name in turned} for row in right]
    log = checked(rows)
    for name in turned:
        assert asks(log, f"{name} ratings fall with hours: is 5 the clean end?")
    never_longer(intervals(log), known)
    settings = replace(FEW_DRAWS, clean_end={f"{name}_rating": 5 for name in turned})
    assert intervals(checked(rows, settings), settings) == known


@pytest.fixture(scope="module")
def fleet_of_many_hours() -> tuple[list[dict], dict[str, float]]:
    """A fleet whose fills vary, and its intervals."""
    rows = simple_log(4, 10)
    return rows, intervals(checked(rows))


@pytest.mark.parametrize(
    ("cells", "rating"), [(["750", "690"], 5), (["0.5", "0.45"], 4), (["3", "4"], 5), (["40"], 5)]
)
def test_dirty_fills_with_suspicious_hours_may_shorten_only(fleet, known, cells, rating) -> None:
    rows = [*fleet, *clean_drains(cells, colour_rating=rating)]
    never_longer(intervals(checked(rows)), known)


def test_shorter_intervals_are_explained(tmp_path, fleet) -> None:
    rows = [*fleet, *clean_drains(["4", "3.5", "3"], colour_rating=5)]
    log = write_rows(tmp_path / "log.csv", rows)
    planned = run_program("plan", log, "--as-of", AS_OF, out=tmp_path / "out", page=False)
    warnings = " ".join(planned.record()["warnings"])
    assert "shorter until it is known which hours the rows that are asked about ran" in warnings


def test_a_scale_that_one_rater_turns() -> None:
    """Until he answers, no interval is longer than without his ratings."""
    right = [row | {"rated_by": ("Ana", "Lou")[at % 2]} for at, row in enumerate(simple_log(8, 14))]
    mine = [row["rated_by"] == "Lou" for row in right]
    turned = [
        row | ({"colour_rating": 6 - row["colour_rating"]} if his else {})
        for row, his in zip(right, mine, strict=True)
    ]
    without = [row | ({"colour_rating": ""} if his else {}) for row, his in zip(right, mine, strict=True)]
    log = checked(turned)
    assert asks(log, "colour ratings by 'Lou' fall with hours: is 5 the clean end for them?")
    never_longer(intervals(log), intervals(checked(without)))


@pytest.mark.parametrize(
    ("column", "names"),
    [("oil_grade", ("5W", "SAE 5")), ("spring_type", ("Stepped 46", "Steped 46")), ("rider", ("Tevik", "Tevick"))],
)
def test_a_name_in_two_spellings_of_which_the_dirty_drains_have_one(column: str, names) -> None:
    rows = simple_log(2, 5, seed=0)
    one = intervals(checked([row | {column: names[0]} for row in rows]))
    log = checked([row | {column: names[row["colour_rating"] >= 4]} for row in rows])
    assert asks(log, "one? They count as two until you answer")
    never_longer(intervals(log), one)


def of_two_names(rows: list[dict], unit: str, other: str) -> list[dict]:
    """The rows with the dirty drains of a unit under another name."""
    return [row | {"unit_id": other} if row["unit_id"] == unit and row["colour_rating"] >= 4 else row for row in rows]


def with_a_dirty_unit(rows: list[dict]) -> list[dict]:
    """The rows with every second drain of U01 dirty."""
    first = [row for row in rows if row["unit_id"] == "U01"]
    dirty = [id(row) for row in first[::2]]
    return [row | ({"colour_rating": 5, "debris_rating": 4} if id(row) in dirty else {}) for row in rows]


def test_a_unit_in_two_spellings_of_which_the_dirty_drains_have_one(fleet) -> None:
    rows = with_a_dirty_unit(fleet)
    one = intervals(checked(rows))
    log = checked(of_two_names(rows, "U01", "UO1"))
    assert asks(log, "are 'UO1' and 'U01' one? They count as two until you answer")
    found = intervals(log)
    assert found.keys() == {*one, "UO1"}
    never_longer(found, one | {"UO1": one["U01"]})


def test_a_unit_in_two_spellings_in_a_large_fleet(large_at_once) -> None:
    rows = with_a_dirty_unit(simple_log(205, 4, hours=HOURS))
    split = [
        row | {"rider": "Brassk" if row["unit_id"] == "U07" else "Brask"} for row in of_two_names(rows, "U01", "UO1")
    ]
    asked, two = checked(split), replace(FEW_DRAWS, words={"unit_id": {"uo1": "UO1"}, "rider": {"brassk": "Brassk"}})
    one, found, apart = intervals(checked(rows)), intervals(asked), intervals(checked(split, two), two)
    assert all(hours <= apart[unit] for unit, hours in found.items())
    assert found["U01"] < apart["U01"]
    assert found["UO1"] <= apart["UO1"]
    assert abs(found["U01"] - one["U01"]) <= 0.5
    assert {unit for unit in one if found[unit] < apart[unit]} <= {"U01", "UO1", "U07"}


@pytest.mark.parametrize("share", [1.0, 0.2])
def test_fills_of_hours_that_are_asked_about_make_no_part_younger(fleet, known, share: float) -> None:
    """A unit whose hours are parts of a day, and a log in which some cells are: no longer than by the right hours."""
    rows = [
        row | {"oil_hours": round(row["oil_hours"] / 24, 4)}
        if (row["unit_id"] == "U03" if share == 1.0 else at % 5 == 0)
        else row
        for at, row in enumerate(fleet)
    ]
    log = checked(rows)
    assert log.asked.height == (8 if share == 1.0 else 7)
    never_longer(intervals(log), known)


@pytest.mark.parametrize("column", ["rider", "rated_by"])
@pytest.mark.parametrize("rating", [1, 5])
def test_rows_of_two_people(fleet, column: str, rating: int) -> None:
    """No longer than without these rows, nor than as either person's."""
    rows = [row | {column: ("Brask", "Tevik")[at % 2]} for at, row in enumerate(fleet)]
    of_two = clean_drains(["13", "12"], colour_rating=rating)
    log = checked([*rows, *[row | {column: "Tevik+Brask"} for row in of_two]])
    assert log.asked_rows == 2
    found = intervals(log)
    never_longer(found, intervals(checked(rows)))
    for one in ("Brask", "Tevik"):
        never_longer(found, intervals(checked([*rows, *[row | {column: one} for row in of_two]])))


def test_a_scale_that_one_of_three_raters_turns_since_some_day() -> None:
    right = [row | {"rated_by": ("Ana", "Bo", "Lou")[at % 3]} for at, row in enumerate(simple_log(8, 14))]
    mine = [row["rated_by"] == "Lou" and row["drained_on"] >= "2026-05-01" for row in right]
    turned = [
        row | ({"colour_rating": 6 - row["colour_rating"]} if his else {})
        for row, his in zip(right, mine, strict=True)
    ]
    without = [row | ({"colour_rating": ""} if his else {}) for row, his in zip(right, mine, strict=True)]
    log = checked(turned)
    assert asks(log, "colour ratings by 'Lou' since 2026-0")
    asked = log.accepted["drains"].filter("colour_in_question")
    assert set(asked["rated_by"]) == {"Lou"}
    assert asked.height >= sum(mine)
    never_longer(intervals(log), intervals(checked(without)))


@pytest.mark.parametrize(
    "change", [lambda level: level - 1, lambda level: (level + 1) // 2], ids=["from 0", "up to 3"]
)
def test_one_raters_own_scale(change) -> None:
    """Read as the others' scale it would make intervals longer than they are, by a tenth and more."""
    right = [row | {"rated_by": ("KB", "MO", "TW")[at % 3]} for at, row in enumerate(simple_log(6, 16, seed=2))]
    ratings = ("colour_rating", "debris_rating")
    theirs = [
        row | ({name: change(row[name]) for name in ratings} if row["rated_by"] == "MO" else {}) for row in right
    ]
    log = checked(theirs)
    assert asks(log, "is that scale 0 to 4?") or asks(log, "does that scale end there?")
    in_silence = intervals(checked([row | {"confirmed": "yes"} for row in theirs]))
    found, known = intervals(log), intervals(checked(right))
    never_longer({unit: 1.1 * hours for unit, hours in found.items()}, in_silence)
    never_longer(found, {unit: hours + 0.5 for unit, hours in known.items()})
