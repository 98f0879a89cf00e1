"""Which hours are asked about, in what words, and what is proposed."""

import polars as pl
import pytest

from draincurve.schemas.settings import Settings

USUAL = ("10", "12", "11", "13", "12.5", "9")
MOSTLY_MINUTES = ("600", "750", "690", "810", "720", "660", "585", "840", "12", "9.5", "14", "11")
MOSTLY_DAYS = ("0.5", "0.520833", "0.4375", "0.6", "0.5625", "12", "9.5", "14")


def unit_rows(unit: str, hours: tuple[str, ...], **more: str) -> list[dict]:
    return [
        {"unit_id": unit, "oil_hours": text, "drained_on": f"2025-{month:02d}-01"} | more
        for month, text in enumerate(hours, 1)
    ]


def asked(log) -> dict[str, tuple[str, str | None]]:
    """First words of the question about each cell of hours, and its proposal."""
    rows = log.remarks.filter((pl.col("kind") == "asked") & (pl.col("column") == "oil_hours"))
    return {
        value: (message.split(":")[0], proposal)
        for value, message, proposal in rows.select("value", "message", "proposal").iter_rows()
    }


@pytest.mark.parametrize(
    ("typed", "words", "proposal"),
    [
        ("750", "hours look like minutes", "12.5"),
        ("630", "hours look like minutes", "10.5"),
        ("0.520833", "hours look like a part of a day", "12.5"),
        ("0.375", "hours look like a part of a day", "9"),
        ("40", "hours over 2.5 times the usual", None),
        ("125", "hours over 2.5 times the usual", "12.5"),
        ("4", "hours under 0.4 times the usual", None),
        ("1.25", "hours under 0.4 times the usual", "12.5"),
    ],
)
def test_a_suspicious_cell_among_usual_ones(check, typed: str, words: str, proposal: str | None) -> None:
    log = check(*unit_rows("F1", (*USUAL, typed)), *unit_rows("F2", USUAL))
    assert asked(log) == {typed: (words, proposal)}
    drains = log.accepted["drains"]
    assert drains.filter("hours_in_question")["oil_hours"].to_list() == [float(typed)]


@pytest.mark.parametrize(
    ("usual", "typed", "words", "proposal"),
    [
        (MOSTLY_MINUTES[:4], "23.0", "most of this unit's hours look like minutes or parts of a day", None),
        (MOSTLY_MINUTES[:4], "45", "hours over 2.5 times the usual", None),
        (USUAL, "45 min", "hours under 0.4 times the usual", "7.5"),
        (USUAL, "0:45", "hours under 0.4 times the usual", "7.5"),
        (USUAL, "20 min", "hours under 0.4 times the usual", None),
    ],
)
def test_a_part_of_a_day_is_a_bare_number_under_two(check, usual, typed: str, words: str, proposal) -> None:
    log = check(*unit_rows("F1", (*usual, typed)), *unit_rows("F2", USUAL), *unit_rows("F3", USUAL))
    assert asked(log)[typed] == (words, proposal)


@pytest.mark.parametrize(("typed", "read"), [("240 min", "4"), ("4:00", "4"), ("2400 minutes", "40")])
def test_a_converted_cell_is_compared_by_the_hours_it_was_read_as(check, typed: str, read: str) -> None:
    log = check(*unit_rows("F1", (*USUAL, typed)), *unit_rows("F2", USUAL))
    message = log.remarks.filter(pl.col("value") == typed)["message"].item()
    assert f"(read as {read}.0 h)" in message


@pytest.mark.parametrize("count", [2, 3, 4])
def test_several_suspicious_cells_do_not_become_usual(check, count: int) -> None:
    minutes = ("750", "690", "810", "600")[:count]
    log = check(*unit_rows("F1", (*USUAL[:4], *minutes)), *unit_rows("F2", USUAL), *unit_rows("F3", USUAL))
    assert asked(log) == {text: ("hours look like minutes", f"{float(text) / 60:g}") for text in minutes}


@pytest.mark.parametrize(
    ("cells", "factor"),
    [(MOSTLY_MINUTES, 1 / 60), (MOSTLY_MINUTES[:10], 1 / 60), (MOSTLY_DAYS, 24)],
    ids=["two thirds min", "four fifths min", "parts of a day"],
)
def test_no_hours_of_a_unit_that_is_mostly_in_another_unit_of_time_are_known(check, cells, factor: float) -> None:
    log = check(*unit_rows("F1", cells), *unit_rows("F2", USUAL), *unit_rows("F3", USUAL), *unit_rows("F4", USUAL))
    foreign = {cell for cell in cells if not 5 < float(cell) < 20}
    found = asked(log)
    assert {cell: float(proposal) for cell, (_, proposal) in found.items() if proposal is not None} == {
        cell: pytest.approx(float(cell) * factor, abs=0.01) for cell in foreign
    }
    assert {words for cell, (words, _) in found.items() if cell not in foreign} == {
        "most of this unit's hours look like minutes or parts of a day"
    }
    assert log.accepted["drains"].filter("hours_in_question")["unit_id"].to_list() == ["F1"] * len(cells)


def test_a_unit_alone_of_which_half_is_in_minutes(check) -> None:
    log = check(*unit_rows("F1", (*USUAL, *MOSTLY_MINUTES[:6])))
    assert asked(log) == {text: ("hours look like minutes", f"{float(text) / 60:g}") for text in MOSTLY_MINUTES[:6]}


@pytest.mark.parametrize("cells", [("750", "690", "810"), ("0.520833", "0.5", "0.4375")])
def test_a_unit_whose_every_cell_is_in_another_unit_of_time(check, cells: tuple[str, ...]) -> None:
    log = check(*unit_rows("F1", cells), *unit_rows("F2", USUAL), *unit_rows("F3", USUAL))
    assert set(asked(log)) == set(cells)


@pytest.mark.parametrize(("cells", "found"), [(("40",), {"40"}), (("12", "41"), {"41"}), (("40", "43"), set())])
def test_a_unit_of_few_fills_is_compared_with_the_fleet(check, cells: tuple[str, ...], found: set[str]) -> None:
    assert set(asked(check(*unit_rows("F1", cells), *unit_rows("F2", USUAL), *unit_rows("F3", USUAL)))) == found


def test_a_unit_with_a_usual_of_its_own_is_not_asked_about(check) -> None:
    log = check(*unit_rows("F1", ("40", "44", "38", "52", "31")), *unit_rows("F2", USUAL), *unit_rows("F3", USUAL))
    assert asked(log) == {}


def test_a_confirmed_row_is_known(check) -> None:
    rows = [*unit_rows("F1", USUAL), *unit_rows("F1", ("40",), drained_on="2026-11-01", confirmed="yes")]
    log = check(*rows)
    assert asked(log) == {}
    assert not log.accepted["drains"]["hours_in_question"].any()
    rows[-1]["confirmed"] = "no"
    assert set(asked(check(*rows))) == {"40"}


def test_confirmed_does_not_silence_a_sign(check, messages) -> None:
    assert messages(check({"leak": "yes", "confirmed": "yes"})) == ["inspect now, whatever the interval"]


@pytest.mark.parametrize(
    ("typed", "cautious"),
    [("750", 12.5), ("0.5", 12.0), ("4", 4.0), ("40", None)],
    ids=["min", "day", "short", "long"],
)
def test_hours_at_which_a_dirty_rating_counts(check, typed: str, cautious: float | None) -> None:
    drains = check(*unit_rows("F1", (*USUAL, typed))).accepted["drains"]
    assert drains.filter("hours_in_question")["cautious_hours"].to_list() == [cautious]


def test_hours_meant_by_the_settings_may_be_usual_beyond_the_limits(check) -> None:
    settings = Settings(headers={"oil_hours": ("oil_hours",)})
    rows = [*unit_rows("F1", ("220", "260", "240")), *unit_rows("F2", ("230", "250", "210", "900"))]
    assert set(asked(check(*rows, settings=settings))) == {"900"}


def test_hours_and_minutes_behind_a_point_are_asked_about(check) -> None:
    rows = [
        {"drained_on": f"2026-0{month}-04", "oil_hours": hours}
        for month, hours in enumerate(("12:30", "12.30", "11.45", "10.15"), 1)
    ]
    asked = check(*rows).asked.filter(pl.col("column") == "oil_hours")
    assert asked.select("line", "value").rows() == [(None, "12.30")]
    assert check(*rows[1:]).asked.filter(pl.col("column") == "oil_hours").is_empty()


def test_hours_far_over_the_usual_by_the_meter_may_be_another_meters(check) -> None:
    readings = [100, 112, 126, 138, 150, 460, 472]
    rows = [
        {"drained_on": f"2026-0{month}-04", "oil_hours": None, "meter_hours": str(reading)}
        for month, reading in enumerate(readings, 1)
    ]
    [(message, proposal)] = check(*rows).asked.filter(column="oil_hours").select("message", "proposal").rows()
    assert "Was a service left out, or the meter replaced?" in message
    assert proposal is None
