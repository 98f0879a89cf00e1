"""A whole column of hours that may be something else is asked about once, and no hours are known until then."""

from datetime import date
from itertools import accumulate

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.reading.validating.hours_column import column_question, part_of_a_day
from draincurve.pipeline.reading.validating.running_hours import ascents_by_unit
from draincurve.schemas.settings import Settings

RNG = np.random.default_rng(3)
HALVES = RNG.integers(50, 90, size=20) / 2
FILLS = ((12.0, 9.5, 13.0, 10.0, 11.5), (8.0, 11.0, 9.0, 12.5, 10.0), (10.0, 12.0, 11.0, 13.5, 9.0))


def fleet_rows(hours_of: dict[str, list[float]]) -> list[dict]:
    return [
        {"unit_id": unit, "oil_hours": f"{value:g}", "drained_on": f"2026-{month:02d}-01"}
        for unit, values in hours_of.items()
        for month, value in enumerate(values, 1)
    ]


def meters(starts=(0.0, 112.0, 46.5)) -> dict[str, list[float]]:
    return {
        f"F{unit}": list(accumulate(fills, initial=start))[1:]
        for unit, (fills, start) in enumerate(zip(FILLS, starts, strict=True), 1)
    }


def file_questions(log) -> list[tuple[str, str]]:
    """Begin of each question about the whole column, and the setting that answers it."""
    rows = log.asked.filter(pl.col("line").is_null() & (pl.col("column") == "oil_hours"))
    return [
        (text.split(":")[0].split(" (")[0], setting) for text, setting in rows.select("message", "setting").rows()
    ]


def test_readings_of_meters(check) -> None:
    log = check(*fleet_rows(meters()))
    assert file_questions(log) == [
        (
            "hours rise at nearly every drain",
            '[headers]\nmeter_hours = ["oil_hours"]  # or oil_hours, if they are hours on the oil',
        )
    ]
    assert log.asked.drop_nulls("line").is_empty()
    assert log.accepted["drains"]["hours_in_question"].all()


def test_a_meter_that_was_replaced_once(check) -> None:
    hours = meters()
    hours["F1"][3:] = [10.0, 21.5]
    assert file_questions(check(*fleet_rows(hours)))[0][0] == "hours rise at nearly every drain"


def test_meter_hours_beside_them_are_known(check) -> None:
    rows = fleet_rows(meters())
    rows.append({"unit_id": "F1", "oil_hours": None, "meter_hours": "500", "drained_on": "2026-06-01"})
    rows.append({"unit_id": "F1", "oil_hours": None, "meter_hours": "511", "drained_on": "2026-07-01"})
    known = check(*rows).accepted["drains"].filter(~pl.col("hours_in_question"))
    assert known["oil_hours"].to_list() == [None, 11.0]


@pytest.mark.parametrize("column", ["oil_hours", "meter_hours"])
def test_the_settings_answer(check, column: str) -> None:
    log = check(*fleet_rows(meters()), settings=Settings(headers={column: ("oil_hours",)}))
    assert file_questions(log) == []
    drains = log.accepted["drains"]
    if column == "meter_hours":
        assert drains["oil_hours"].drop_nulls().to_list() == [hours for fills in FILLS for hours in fills[1:]]
        assert not drains["hours_in_question"].any()
    assert not drains["hours_in_question"].all()


def test_fills_in_any_order_are_not_asked_about(check) -> None:
    assert file_questions(check(*fleet_rows({f"F{unit}": list(fills) for unit, fills in enumerate(FILLS)}))) == []


def test_one_unit_with_readings_of_its_meter_among_others_with_hours(check) -> None:
    hours = {f"F{unit}": list(fills) for unit, fills in enumerate(FILLS)} | {"M1": [61.0, 72.5, 84.0, 96.0, 107.0]}
    log = check(*fleet_rows(hours))
    drains = log.accepted["drains"]
    assert drains.filter("hours_in_question")["unit_id"].unique().to_list() == ["M1"]
    assert drains["hours_in_question"].sum() == 5


@pytest.mark.parametrize(
    ("factor", "words"), [(60.0, "hours over 200 h at most drains"), (1 / 24, "hours under 1 h at most drains")]
)
def test_a_column_in_another_unit_of_time(check, factor: float, words: str) -> None:
    hours = {f"F{unit}": [round(factor * h, 4) for h in fills] for unit, fills in enumerate(FILLS)}
    log = check(*fleet_rows(hours))
    assert [message for message, _ in file_questions(log)] == [words]
    assert log.accepted["drains"]["hours_in_question"].all()


def test_confirmed_rows_are_known(check) -> None:
    rows = fleet_rows(meters())
    rows[0]["confirmed"] = "yes"
    assert check(*rows).accepted["drains"].filter(~pl.col("hours_in_question"))["line"].to_list() == [2]


def test_a_meter_that_counts_other_hours_is_asked_about_once(check) -> None:
    readings = meters()
    rows = [
        row | {"meter_hours": f"{1.4 * reading:.1f}"}
        for row, reading in zip(
            fleet_rows({f"F{unit}": list(fills) for unit, fills in enumerate(FILLS, 1)}),
            [reading for unit in readings.values() for reading in unit],
            strict=True,
        )
    ]
    log = check(*rows)
    asked = log.asked.filter(pl.col("column").is_in(["oil_hours", "meter_hours"]))
    assert [text.split(" (")[0] for text in asked["message"]] == ["hours differ from the meter at most drains"]
    assert log.accepted["drains"]["hours_in_question"].sum() == 12
    answered = check(*rows, settings=Settings(headers={"note": ("meter_hours",)}))
    assert not answered.accepted["drains"]["hours_in_question"].any()


def random_fills(seed: int, sd: float, units: int = 6, drains: int = 8) -> dict[str, list[float]]:
    """Fills that vary by `sd` on the log scale."""
    fills = 11.0 * np.exp(sd * np.random.default_rng(seed).normal(size=(units, drains)))
    return {f"F{unit}": [round(hours, 1) for hours in row] for unit, row in enumerate(fills)}


def asked_of(hours_of: dict[str, list[float]]) -> str:
    """The question about the column alone, without the other checks of a log; "" where there is none."""
    rows = pl.DataFrame(
        [
            {"unit_key": unit, "drained_on": date(2026, month, 1), "_hours": value, "_fleet": 11.0}
            for unit, values in hours_of.items()
            for month, value in enumerate(values, 1)
        ]
    )
    question = column_question(rows, ascents_by_unit(rows), header="oil_hours")
    return "" if question is None else question.message


@pytest.mark.parametrize("resets", [0, 1, 2])
def test_meters_that_start_again(check, resets: int) -> None:
    for seed in range(8):
        hours = {}
        for unit, fills in random_fills(seed, 0.3).items():
            parts = np.array_split(fills, resets + 1)
            hours[unit] = [round(float(read), 1) for part in parts for read in np.cumsum(part)]
        assert "are they meter readings?" in asked_of(hours)
    log = check(*fleet_rows(hours))
    assert "are they meter readings?" in " ".join(log.asked["message"])
    assert log.accepted["drains"]["hours_in_question"].all()


@pytest.mark.parametrize("drains", [3, 4, 5])
@pytest.mark.parametrize("shift", [0, 1])
def test_hours_since_the_last_rebuild(check, drains: int, shift: int) -> None:
    """Each unit is rebuilt every few drains; `shift` drains of its first rebuild were before the log."""
    for seed in range(8):
        hours = {}
        for unit, fills in random_fills(seed, 0.2, drains=10).items():
            parts = np.split(fills, range(drains - shift, len(fills), drains))
            hours[unit] = [round(float(read), 1) for part in parts for read in np.cumsum(part)]
        assert "or start again" in asked_of(hours)
    log = check(*fleet_rows(hours))
    assert "or start again" in " ".join(log.asked["message"])
    assert log.accepted["drains"]["hours_in_question"].all()


@pytest.mark.parametrize("shift", [0, 1])
def test_every_second_drain_runs_on(check, shift: int) -> None:
    for seed in range(8):
        hours = {}
        for unit, fills in random_fills(seed, 0.15, drains=10).items():
            parts = np.split(fills, range(2 - shift, len(fills), 2))
            hours[unit] = [round(float(read), 1) for part in parts for read in np.cumsum(part)]
        assert "rise and fall in turn" in asked_of(hours)
    assert check(*fleet_rows(hours)).accepted["drains"]["hours_in_question"].all()
    slightly = {
        unit: [1.6 * read if at % 2 == shift else read for at, read in enumerate(of)] for unit, of in hours.items()
    }
    assert "in turn" not in asked_of(slightly)


def test_long_and_short_fills_in_any_order_do_not_start_again() -> None:
    for seed in range(40):
        fills = random_fills(seed, 0.15)
        long = np.random.default_rng(seed).random((6, 8)) < 0.5
        mixed = {unit: list(np.where(row, 3.0, 1.0) * fills[unit]) for unit, row in zip(fills, long, strict=True)}
        assert "start again" not in asked_of(mixed)
        assert "in turn" not in asked_of(mixed)


@pytest.mark.parametrize("sd", [0.3, 0.6])
def test_ordinary_fills_are_no_meter(check, sd: float) -> None:
    fills = [random_fills(seed, sd) for seed in range(40)]
    assert not any("meter readings" in asked_of(hours) for hours in fills)
    assert not any("meter readings" in text for text in check(*fleet_rows(fills[0])).asked["message"])


def test_rows_held_back_for_their_dates_still_show_a_meter(check) -> None:
    rows = fleet_rows({unit: list(np.cumsum(fills).round(1)) for unit, fills in random_fills(1, 0.3).items()})
    for at, row in enumerate(rows):
        row["drained_on"] = row["drained_on"] if at % 3 else "no date"
    log = check(*rows)
    assert "are they meter readings?" in " ".join(log.asked["message"])


@pytest.mark.parametrize("decimals", [3, 4, 6, 16])
@pytest.mark.parametrize("steps", [2, 4])
def test_parts_of_a_day(decimals: int, steps: int) -> None:
    hours = RNG.integers(25 * steps, 45 * steps, size=20) / steps
    assert part_of_a_day(pl.Series((hours / 24).round(decimals))) is not None


@pytest.mark.parametrize(
    "hours",
    [
        HALVES,
        RNG.integers(100, 400, size=20) / 4,
        (RNG.integers(60, 1200, size=20) / 60).round(4),
        (RNG.integers(6, 120, size=20) / 6).round(3),
        RNG.uniform(1, 40, size=20).round(3),
        RNG.uniform(1, 40, size=20).round(4),
        (HALVES / 24).round(4)[:3],
        (HALVES / 24).round(2),
    ],
)
def test_hours_that_are_no_parts_of_a_day(hours: np.ndarray) -> None:
    assert part_of_a_day(pl.Series(hours)) is None


@pytest.mark.parametrize("mark", [".", ","])
def test_parts_of_a_day_are_asked_about_once_and_not_known(check, mark: str) -> None:
    typed = [f"{hours / 24:.4f}".replace(".", mark) for hours in HALVES]
    log = check(*[{"drained_on": f"2026-03-{day:02d}", "oil_hours": cell} for day, cell in enumerate(typed, 1)])
    asked = log.asked.filter(column="oil_hours")
    assert len(asked) == 1
    assert "whole minutes only as parts of a day" in asked["message"][0]
    assert log.accepted["drains"]["hours_in_question"].all()
