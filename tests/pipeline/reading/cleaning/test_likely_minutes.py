"""Numbers that may be minutes are asked about, not read in silence."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.likely_minutes import minutes_question
from draincurve.schemas.settings import Settings

QUARTERS = ["9.00", "12.15", "11.30", "10.45", "8.15", "14.00", "13.30", "12.45"]


@pytest.mark.parametrize(
    ("texts", "example"),
    [
        (["12:30", "12.30", "11.45", "10.15"], "12.30"),
        (["12:30", "12,30", "11,45", "10,05", None], "12,30"),
        (["12:30", "12.30", "11.75", "10.15"], None),
        (["12:30", "12.5", "11.25", "10.15"], None),
        (["12:30", "12.50", "11.25", "10.00"], None),
        (["12.30", "11.45", "10.15"], None),
        (QUARTERS, "12.15"),
        ([text.replace(".", ",") for text in QUARTERS], "12,15"),
        (QUARTERS[:7], None),
        ([*QUARTERS[:7], "12.75"], None),
        (["9.00", "12.50", "11.00", "10.50", "8.00", "14.50", "13.00", "15.50"], None),
        (["9.00", "12.30", "11.00", "10.30", "8.00", "14.30", "13.00", "15.30"], None),
    ],
)
def test_decimals_that_may_be_minutes(texts: list[str | None], example: str | None) -> None:
    question = minutes_question(pl.Series(texts), "run hours", header=None, cells=pl.Series(texts))
    assert (None if question is None else question.value) == example
    assert question is None or not question.unknown, "decimal hours are fewer, so they count"


FIVES = [
    "2.30",
    "2.50",
    "2.35",
    "2.40",
    "4.35",
    "4.50",
    "2.15",
    "3.05",
    "1.20",
    "3.10",
    "2.25",
    "1.55",
    "3.00",
    "2.45",
]
TENS = ["3.40", "2.40", "1.30", "1.10", "2.00", "2.20"]


@pytest.mark.parametrize(
    ("cells", "example"),
    [
        (FIVES, "2.30"),
        ([text.replace(".", ",") for text in FIVES], "2,30"),
        ([*FIVES, "3"], "2.30"),
        (TENS * 2, "3.40"),
        (TENS, None),
        ([*FIVES, "2.60"], None),
        ([*FIVES, "2.5"], None),
        (["2.25", "2.50", "3.00", "4.25"] * 10, None),
        (["2.3", "2.5", "3.4", "4.1"] * 10, None),
    ],
)
def test_two_decimals_of_which_none_is_over_59(check, cells: list[str], example: str | None) -> None:
    """For cells with 60 to 99 among decimals the chance is 0.4 each."""
    days = [f"2026-{1 + at // 28:02d}-{1 + at % 28:02d}" for at in range(len(cells))]
    log = check(*[{"drained_on": day, "oil_hours": cell} for day, cell in zip(days, cells, strict=True)])
    asked = [one for one in log.asked.to_dicts() if "hours and minutes" in one["message"]]
    assert [one["value"] for one in asked] == ([] if example is None else [example])
    assert log.accepted["drains"].sort("line")["oil_hours"][0] == float(cells[0].replace(",", "."))


@pytest.mark.parametrize(
    ("texts", "asked"),
    [
        (["10", "15", "20", None], True),
        (["10", "15 min", "overnight", "0.2"], False),
        (["30", "60", "24"], True),
        (["0.2", "0.25", "12"], False),
        (["24", "12", "48"], False),
        (["168", "0.5"], False),
        (["10 min", "2 h"], False),
    ],
)
def test_settling_times_without_a_unit(check, texts: list[str | None], asked: bool) -> None:
    rows = [{"drained_on": f"2026-0{month}-04", "Settle": text} for month, text in enumerate(texts, 1)]
    log = check(*rows, without=("settle_hours",))
    questions = log.asked.filter(column="settle_hours")
    assert questions.height == asked
    assert not asked or questions["value"].to_list() == ["Settle"]
    if not asked:
        return
    for header in ("settle_hours", "Settle min", "Settle (h)"):
        rows = [{"drained_on": f"2026-0{month}-04", header: text} for month, text in enumerate(texts, 1)]
        assert check(*rows, without=("settle_hours",)).asked.filter(column="settle_hours").is_empty()


@pytest.mark.parametrize(
    ("header", "texts", "asked"),
    [
        ("settle_hours", ["10 min", "10", "10 min", "60", "10 min", "15 min"], "10"),
        ("settle_hours", ["10 min", "12", "10 min"], "12"),
        ("Settle (min)", ["2 h", "1 h", "10", "2 h"], "10"),
        ("settle_hours", ["10 min", "0.5", "10 min", "15 min"], None),
        ("settle_hours", ["10 min", "12", "10 min", "2 h"], None),
        ("settle_hours", ["12", "24", "12", "10 min"], None),
        ("settle_hours", ["12 h", "24", "12 h"], None),
        ("settle_hours", ["overnight", "24", "overnight"], None),
    ],
)
def test_a_number_among_times_in_another_unit(check, header: str, texts: list[str], asked: str | None) -> None:
    rows = [{"drained_on": f"2026-0{month}-04", header: text} for month, text in enumerate(texts, 1)]
    log = check(*rows, without=("settle_hours",))
    assert log.asked.filter(column="settle_hours")["value"].to_list() == ([] if asked is None else [asked])
    unknown = log.accepted["drains"].sort("line")["settle_assumed"].to_list()
    assert unknown == [asked is not None and text.isdigit() for text in texts]


def test_only_times_without_a_unit_are_unknown(check) -> None:
    texts = ("10", "15", "20", "15 min", "2 h")
    rows = [{"drained_on": f"2026-0{month}-04", "Settle": text} for month, text in enumerate(texts, 1)]
    drains = check(*rows, without=("settle_hours",)).accepted["drains"].sort("line")
    assert drains["settle_assumed"].to_list() == [True] * 3 + [False] * 2
    assert drains["settle_hours"].to_list()[3:] == [0.25, 2.0]


@pytest.mark.parametrize(("decimals", "hours"), [("minutes", [2.5, 2 + 50 / 60, 12.0]), ("hours", [2.3, 2.5, 12.0])])
def test_the_settings_say_what_is_behind_the_point(check, decimals: str, hours: list[float]) -> None:
    rows = [{"oil_hours": cell, "drained_on": f"2026-03-{day:02d}"} for day, cell in enumerate([*FIVES, "12"], 1)]
    asked = check(*rows).asked.filter(pl.col("message").str.contains("hours and minutes"))
    assert asked["setting"].to_list() == ['[decimals]\noil_hours = "minutes"  # or "hours"']
    log = check(*rows, settings=Settings(decimals={"oil_hours": decimals}))
    assert not log.asked["message"].str.contains("hours and minutes").any()
    drains = log.accepted["drains"].sort("line")
    assert drains["oil_hours"].gather([0, 1, -1]).to_list() == pytest.approx(hours)


def test_decimals_that_cannot_be_minutes_are_held_back(check) -> None:
    cells = ["2.30", "2.75", "2.5"]
    rows = [{"oil_hours": cell, "drained_on": f"2026-03-{day:02d}"} for day, cell in enumerate(cells, 1)]
    log = check(*rows, settings=Settings(decimals={"oil_hours": "minutes"}))
    assert log.held_back["value"].to_list() == ["2.75", "2.5"]
    assert "more than 59 minutes" in log.held_back["reason"][0]
