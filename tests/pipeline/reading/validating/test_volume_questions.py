"""Volumes in another unit than the heading's are asked about and enter no balance."""

import re

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.header_meaning import MatchedHeader, match_header


def volume_rows(*pairs: tuple[str, str], unit: str = "F1", **more: str) -> list[dict]:
    return [
        {"unit_id": unit, "drained_on": f"2026-{month:02d}-01", "filled_ml": filled, "drained_ml": drained} | more
        for month, (filled, drained) in enumerate(pairs, 1)
    ]


LITRES = "volume looks like litres"
USUAL = (("485", "470"), ("490", "480"), ("480", "475"))


def asked(log) -> list[tuple[str, str, str | None]]:
    """Cell, first words of the question, and proposal."""
    rows = log.asked.filter(pl.col("column").is_in(["filled_ml", "drained_ml"])).select(
        "value", "message", "proposal"
    )
    return [(value, message.split(":")[0], proposal) for value, message, proposal in rows.iter_rows()]


@pytest.mark.parametrize(
    ("pair", "found"),
    [
        (
            ("0.485", "0.47"),
            [("0.485", "volume looks like litres", "485"), ("0.47", "volume looks like litres", "470")],
        ),
        (("490", "0.48"), [("0.48", LITRES, "480")]),
        (("48", "47"), [("48", "volume 5 times off the unit's others", "480")]),
        (("4900", "4800"), [("4900", "volume 5 times off the unit's others", "490")]),
        (("16.4", "16"), [("16.4", "volume 5 times off the unit's others", "485")]),
    ],
)
def test_a_volume_in_another_unit(check, pair: tuple[str, str], found: list) -> None:
    log = check(*volume_rows(*USUAL, pair))
    assert log.held_back.is_empty()
    assert asked(log)[: len(found)] == found
    drains = log.accepted["drains"]
    assert drains["volumes_in_question"].to_list() == [False, False, False, True]
    assert drains["hours_in_question"].to_list() == [False, False, False, True]
    assert drains["cautious_hours"].to_list() == [None, None, None, 12.0]


def test_half_of_them_in_litres(check) -> None:
    log = check(*volume_rows(*USUAL, ("0.485", "0.47"), ("0.49", "0.48"), ("0.48", "0.475")))
    assert {proposal for _, _, proposal in asked(log)} == {"485", "470", "490", "480", "475"}
    assert log.accepted["drains"]["volumes_in_question"].sum() == 3


def test_a_whole_column_in_litres_is_asked_about_once(check) -> None:
    log = check(*volume_rows(("0.485", "0.47"), ("0.49", "0.48"), ("0.48", "0.475")))
    assert [(value, words) for value, words, _ in asked(log)] == [
        ("filled_ml", "volumes under 5 ml at most drains"),
        ("drained_ml", "volumes under 5 ml at most drains"),
    ]
    assert log.accepted["drains"]["volumes_in_question"].all()
    assert not log.accepted["drains"]["hours_in_question"].any()


def test_units_of_different_size_and_top_ups_are_not_asked_about(check) -> None:
    shock = volume_rows(("60", "58"), ("61", "60"), unit="S1")
    top_up = volume_rows(("20", None), service_kind="top-up", drained_on="2026-06-05")
    assert asked(check(*volume_rows(*USUAL), *shock, *top_up)) == []


def test_a_confirmed_volume_stands(check) -> None:
    log = check(*volume_rows(*USUAL), *volume_rows(("90", "88"), drained_on="2026-07-01", confirmed="yes"))
    assert asked(log) == []
    assert not log.accepted["drains"]["volumes_in_question"].any()


def test_more_out_than_in_is_unknown_and_little_out_stands(check) -> None:
    drains = check(*volume_rows(*USUAL, ("480", "510"), ("480", "330"))).accepted["drains"]
    assert drains["volumes_in_question"].to_list() == [False, False, False, True, False]
    assert drains["return_in_question"].to_list() == [False, False, False, False, True]


@pytest.mark.parametrize("header", ["Filled (ml)", "filled_ml", "Filled, cc", "Filled"])
def test_litres_in_a_whole_column_are_asked_about_with_a_header_that_is_read(check, header):
    rows = [{"drained_on": f"2026-0{month}-04", header: "0.485", "settle_hours": None} for month in range(1, 6)]
    (question,) = [text for text in check(*rows).asked["message"] if "are they litres?" in text]
    answer = re.search("write '(.*)' above them", question)[1]
    assert match_header(answer, "drains") == MatchedHeader("filled_ml", "l")


@pytest.mark.parametrize(("leak", "more"), [("yes", ""), ("no", ", or does it leak"), ("", ", or does it leak")])
def test_a_leak_that_is_stated_is_not_asked_about(check, leak, more) -> None:
    rows = volume_rows(*USUAL) + volume_rows(("480", "300"), unit="F2", leak=leak)
    messages = [row["message"] for row in check(*rows).asked.filter(pl.col("column") == "drained_ml").to_dicts()]
    assert messages == [f"little oil came out: 62 %. Was it drained fully{more}?"]
