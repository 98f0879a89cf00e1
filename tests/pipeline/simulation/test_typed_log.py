import re
from datetime import date, datetime

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.simulation.fleet_tables import simulate_fleet
from draincurve.pipeline.simulation.scenarios import SCENARIOS
from draincurve.pipeline.simulation.typed_log import FIRST_LINE, plain_text, type_by_hand
from draincurve.pipeline.simulation.typing_habits import (
    TypingHabits,
    typed_hours,
    typed_name,
    typed_rating,
    typed_volume,
)

UNTIDY = TypingHabits(
    decimal_comma=True,
    day_first=True,
    variant_share=0.6,
    unit_words_share=0.7,
    approximate_share=0.2,
    rating_range_share=0.5,
)


def as_hours(text):
    text = text.replace(",", ".").removeprefix("~")
    if text.endswith("min"):
        return float(text.removesuffix("min")) / 60
    whole, _, minutes = text.partition("h")
    return float(whole) + (float(minutes) / 60 if minutes.strip() else 0)


def as_ml(text):
    value, _, unit = text.replace(",", ".").partition(" ")
    return float(value) * {"": 1, "ml": 1, "cc": 1, "l": 1000, "oz": 29.5735}[unit]


def as_day(text):
    return datetime.strptime(text, "%d/%m/%Y" if len(text.split("/")[2]) == 4 else "%d/%m/%y").date()


def key(text):
    return re.sub(r"[\s-]", "", text).casefold()


@pytest.fixture(scope="module")
def race():
    chosen = SCENARIOS["race_team"]
    rng = np.random.default_rng(chosen.seed)
    plan = chosen.plan()
    clean = simulate_fleet(plan, rng)
    return clean, type_by_hand(clean.tables, chosen.habits, rng=rng, as_of=plan.as_of)


@given(st.integers(1, 400), st.integers(0, 2**32))
def test_typed_hours_keep_their_value(tenths, seed):
    hours = tenths / 10
    assert as_hours(typed_hours(hours, UNTIDY, rng=np.random.default_rng(seed))) == pytest.approx(hours, abs=1e-9)


@given(st.integers(100, 900), st.integers(0, 2**32))
def test_typed_volume_keeps_its_value_to_a_tenth_of_an_ounce(volume, seed):
    assert as_ml(typed_volume(float(volume), UNTIDY, rng=np.random.default_rng(seed))) == pytest.approx(
        volume, abs=1.5
    )


@given(st.integers(1, 5), st.integers(0, 2**32))
def test_a_typed_rating_includes_the_true_one(rating, seed):
    levels = [int(part) for part in typed_rating(rating, UNTIDY, rng=np.random.default_rng(seed)).split("-")]
    assert rating in levels
    assert all(1 <= level <= 5 for level in levels)


@given(st.sampled_from(["F07", "Plain 46", "Fork 5", "Brask"]), st.integers(0, 2**32))
def test_a_typed_name_differs_only_in_case_space_and_hyphen(name, seed):
    assert key(typed_name(name, UNTIDY, rng=np.random.default_rng(seed))) == key(name)


def test_typed_rows_read_back_as_the_clean_ones(race):
    clean, log = race
    records = clean.tables["drains"].to_dicts()
    compared = 0
    odd = {entry["line"] for entry in log.expected}
    for line, (cells, origin) in enumerate(zip(log.tables["drains"].to_dicts(), log.origin, strict=True), FIRST_LINE):
        if origin is None or line in odd:
            continue
        record = records[origin]
        compared += 1
        assert as_day(cells["drained_on"]) == record["drained_on"]
        assert cells["oil_hours"] == "" or as_hours(cells["oil_hours"]) == pytest.approx(record["oil_hours"])
        assert as_ml(cells["filled_ml"]) == pytest.approx(record["filled_ml"], abs=1.5)
        assert as_ml(cells["drained_ml"]) == pytest.approx(record["drained_ml"], abs=1.5)
        assert str(record["colour_rating"]) in cells["colour_rating"]
        assert str(record["debris_rating"]) in cells["debris_rating"]
        for column in ("unit_id", "oil_grade", "spring_type", "rider"):
            assert key(cells[column]) == key(record[column])
    assert compared > 170


def test_every_clean_drain_is_typed_once(race):
    clean, log = race
    kept = sorted(origin for origin in log.origin if origin is not None)
    assert kept == list(range(clean.tables["drains"].height))


def test_the_usual_mess_is_there(race):
    _, log = race
    drains = log.tables["drains"]
    assert drains["oil_hours"].str.contains("min").any()
    assert drains["oil_hours"].str.contains(r"\dh\d\d").any()
    assert drains["oil_hours"].str.starts_with("~").any()
    assert drains["oil_hours"].str.contains(",").any()
    assert (drains["oil_hours"] == "").any()
    for unit in ("cc", " l", "oz"):
        assert drains["drained_ml"].str.ends_with(unit).any(), unit
    assert drains["colour_rating"].str.contains("-").any()
    assert drains["settle_hours"].is_in(["10 min", "o/n", ""]).any()
    assert (drains["rated_by"] == "").any()
    assert drains["unit_id"].n_unique() > 16


def test_expected_lines_name_the_rows_they_speak_of(race):
    _, log = race
    drains = log.tables["drains"]
    verdicts = [entry["verdict"] for entry in log.expected]
    assert verdicts.count("held back") == 11
    assert verdicts.count("noted") == 1
    assert verdicts.count("asked") == 1
    assert verdicts.count("kept, no drain") == 2
    for entry in log.expected:
        assert drains[entry["column"]][entry["line"] - FIRST_LINE] == entry["value"]


def test_rows_to_hold_back_are_wrong_in_fact(race):
    _, log = race
    drains = log.tables["drains"]
    held = {e["line"] - FIRST_LINE: e for e in log.expected if e["verdict"] == "held back"}
    same_drain = drains.with_row_index("row").group_by("drained_on", "oil_hours", key_of("unit_id")).agg("row")
    repeated = {row for rows in same_drain["row"] if len(rows) > 1 for row in rows}
    for row, entry in held.items():
        if entry["column"] == "unit_id":
            assert row in repeated
        elif entry["column"] == "drained_on":
            assert as_day(entry["value"]) > date(2026, 6, 20)
        else:
            assert entry["value"] in ("6", "0", "-520", "grey", "130 mm", "")
            assert row not in repeated


def key_of(column):
    return pl.col(column).str.replace_all(r"[\s-]", "").str.to_lowercase()


def test_hours_left_blank_follow_from_the_meter(race):
    clean, log = race
    records = clean.tables["drains"].to_dicts()
    drains = log.tables["drains"].to_dicts()
    typed = {origin: cells for cells, origin in zip(drains, log.origin, strict=True) if origin is not None}
    blanks = [origin for origin, cells in typed.items() if cells["oil_hours"] == ""]
    assert blanks
    for origin in blanks:
        earlier = [i for i in range(origin) if records[i]["unit_id"] == records[origin]["unit_id"]]
        meters = [float(typed[i]["meter_hours"].replace(",", ".")) for i in (earlier[-1], origin)]
        assert meters[1] - meters[0] == pytest.approx(records[origin]["oil_hours"], abs=0.06)


def test_one_meter_starts_again(race):
    _, log = race
    drains = log.tables["drains"].filter(pl.col("meter_hours") != "")
    meters = drains.with_columns(key_of("unit_id"), pl.col("meter_hours").str.replace(",", ".").cast(pl.Float64))
    drops = meters.with_columns(pl.col("meter_hours").diff().over("unit_id").alias("d")).filter(pl.col("d") < 0)
    noted = [e for e in log.expected if e["verdict"] == "noted"]
    assert [str(value).replace(".", ",") for value in drops["meter_hours"]] == [noted[0]["value"]]


def test_plain_text_of_a_typed_table():
    table = pl.DataFrame({"a": [1.5, None], "b": [True, False], "c": [date(2026, 6, 1), None], "d": [3, 4]})
    assert plain_text(table).to_dict(as_series=False) == {
        "a": ["1.5", ""],
        "b": ["yes", "no"],
        "c": ["2026-06-01", ""],
        "d": ["3", "4"],
    }
