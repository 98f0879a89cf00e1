"""A row that is asked about is counted on the first screen and lengthens no interval until it is answered."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from small_logs import AS_OF, Outcome, drain, run_program, simple_log, write_rows

HOURS = (9.0, 14.5)


def plan(folder: Path, rows: list[dict], *args: str) -> Outcome:
    log = write_rows(folder / "log.csv", rows)
    return run_program("plan", log, *args, "--as-of", AS_OF, out=folder / "out", page=False)


def intervals(outcome: Outcome) -> dict[str, float]:
    """Interval of each unit [h]; one that is not known is none."""
    table = outcome.table("next_service")
    return dict(zip(table["unit_id"], table["interval_h"].fill_null(0.0), strict=True))


def asked(outcome: Outcome) -> int:
    return outcome.record()["asked"]["count"]


@pytest.fixture(scope="module")
def fleet() -> list[dict]:
    return simple_log(4, 8, hours=HOURS)


@pytest.fixture(scope="module")
def known(tmp_path_factory, fleet) -> dict[str, float]:
    """The intervals of the fleet without any row to ask about."""
    return intervals(plan(tmp_path_factory.mktemp("known"), fleet))


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
def test_clean_fills_with_suspicious_hours(tmp_path, fleet, known, cells: list[str]) -> None:
    outcome = plan(tmp_path, [*fleet, *clean_drains(cells)])
    assert outcome.status == 0
    assert asked(outcome) == len(cells)
    assert f"{len(cells)} row" in outcome.printed
    never_longer(intervals(outcome), known)


@pytest.mark.parametrize("pair", [("0.485", "0.47"), ("48", "47"), ("4850", "4700")])
def test_clean_fills_with_suspicious_volumes(tmp_path, fleet, pair: tuple[str, str]) -> None:
    rows = [row | {"filled_ml": 485, "drained_ml": 475} for row in fleet]
    known = intervals(plan(tmp_path, rows))
    slips = [row | {"oil_hours": 12} for row in clean_drains(["12", "12"], filled_ml=pair[0], drained_ml=pair[1])]
    outcome = plan(tmp_path, [*rows, *slips])
    assert asked(outcome) >= 2
    never_longer(intervals(outcome), known)


def test_a_confirmed_fill_counts(tmp_path, fleet, known) -> None:
    outcome = plan(tmp_path, [*fleet, *clean_drains(["31.5", "33"], confirmed="yes")])
    assert asked(outcome) == 0
    assert intervals(outcome) != known


def test_readings_of_meters_in_the_column_of_hours(tmp_path, fleet) -> None:
    meters, started = [], {}
    for row in sorted(fleet, key=lambda row: row["drained_on"]):
        started[row["unit_id"]] = started.get(row["unit_id"], 40.0) + row["oil_hours"]
        meters.append(row | {"oil_hours": started[row["unit_id"]]})
    outcome = plan(tmp_path, meters)
    assert outcome.status == 0
    assert "are they meter readings?" in " ".join(outcome.printed.split())
    assert outcome.table("next_service")["interval_h"].null_count() == 4
    settings = tmp_path / "shop.toml"
    settings.write_text('[headers]\nmeter_hours = ["oil_hours"]\n')
    answered = plan(tmp_path, meters, "--settings", str(settings))
    assert "are they meter readings?" not in " ".join(answered.printed.split())
    assert 0 < answered.table("next_service")["interval_h"].max() < 20


@pytest.mark.parametrize("turned", [("colour",), ("debris",), ("colour", "debris")], ids=" and ".join)
def test_a_scale_that_runs_the_other_way(tmp_path, fleet_of_many_hours, turned: tuple[str, ...]) -> None:
    right, known = fleet_of_many_hours
    rows = [row | {f"{name}_rating": 6 - row[f"{name}_rating"] for name in turned} for row in right]
    outcome = plan(tmp_path, rows)
    for name in turned:
        assert f"{name} ratings fall with hours: is 5 the clean end?" in " ".join(outcome.printed.split())
    never_longer(intervals(outcome), known)
    settings = tmp_path / "shop.toml"
    settings.write_text("[clean_end]\n" + "".join(f"{name}_rating = 5\n" for name in turned))
    assert intervals(plan(tmp_path, rows, "--settings", str(settings))) == known


@pytest.fixture(scope="module")
def fleet_of_many_hours(tmp_path_factory) -> tuple[list[dict], dict[str, float]]:
    """A fleet whose fills vary, and its intervals."""
    rows = simple_log(4, 10)
    return rows, intervals(plan(tmp_path_factory.mktemp("varied"), rows))


def never_longer(found: dict[str, float], known: dict[str, float]) -> None:
    assert found.keys() == known.keys()
    longer = {unit: (known[unit], hours) for unit, hours in found.items() if hours > known[unit]}
    assert not longer


@pytest.mark.parametrize(
    ("cells", "rating"), [(["750", "690"], 5), (["0.5", "0.45"], 4), (["3", "4"], 5), (["40"], 5)]
)
def test_dirty_fills_with_suspicious_hours_may_shorten_only(tmp_path, fleet, known, cells, rating) -> None:
    rows = [*fleet, *clean_drains(cells, colour_rating=rating)]
    never_longer(intervals(plan(tmp_path, rows)), known)


def test_shorter_intervals_are_explained(tmp_path, fleet) -> None:
    rows = [*fleet, *clean_drains(["4", "3.5", "3"], colour_rating=5)]
    warnings = " ".join(plan(tmp_path, rows).record()["warnings"])
    assert "shorter because of what is asked about" in warnings


def test_a_scale_that_one_rater_turns(tmp_path) -> None:
    """Until he answers, no interval is longer than without his ratings."""
    right = [row | {"rated_by": ("Ana", "Lou")[at % 2]} for at, row in enumerate(simple_log(8, 14))]
    mine = [row["rated_by"] == "Lou" for row in right]
    turned = [
        row | ({"colour_rating": 6 - row["colour_rating"]} if his else {})
        for row, his in zip(right, mine, strict=True)
    ]
    without = [row | ({"colour_rating": ""} if his else {}) for row, his in zip(right, mine, strict=True)]
    outcome = plan(tmp_path, turned)
    assert "colour ratings by 'Lou' fall with hours: is 5 the clean end for them?" in " ".join(
        outcome.printed.split()
    )
    (tmp_path / "without").mkdir()
    never_longer(intervals(outcome), intervals(plan(tmp_path / "without", without)))


@pytest.mark.parametrize(
    ("column", "names"),
    [("oil_grade", ("5W", "SAE 5")), ("spring_type", ("Stepped 46", "Steped 46")), ("rider", ("Tevik", "Tevick"))],
)
def test_a_name_in_two_spellings_of_which_the_dirty_drains_have_one(tmp_path, column: str, names) -> None:
    rows = simple_log(2, 5, seed=0)
    one = intervals(plan(tmp_path, [row | {column: names[0]} for row in rows]))
    outcome = plan(tmp_path, [row | {column: names[row["colour_rating"] >= 4]} for row in rows])
    assert "one? They are kept apart" in outcome.printed
    never_longer(intervals(outcome), one)


@pytest.mark.parametrize("share", [1.0, 0.2])
def test_fills_of_hours_that_are_asked_about_make_no_part_younger(tmp_path, fleet, known, share: float) -> None:
    """A unit whose hours are parts of a day, and a log in which some cells are: no longer than by the right hours."""
    rows = [
        row | {"oil_hours": round(row["oil_hours"] / 24, 4)}
        if (row["unit_id"] == "U03" if share == 1.0 else at % 5 == 0)
        else row
        for at, row in enumerate(fleet)
    ]
    outcome = plan(tmp_path, rows)
    assert asked(outcome) == (8 if share == 1.0 else 7)
    never_longer(intervals(outcome), known)
