"""Logs that mislead: what an expert expects of them (common practice of the trade, no published source)."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl
from small_logs import AS_OF, drain, simple_log

SAMPLES = Path(__file__).parents[2] / "sample_data"


def text_of(page: str) -> str:
    """The page's words, without tags."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def only(outcome) -> dict:
    assert outcome.status == 0, outcome.printed
    table = outcome.table("next_service")
    assert table.height == 1
    return table.row(0, named=True)


def test_a_log_of_one_row_gives_a_wide_answer_inside_the_range_of_the_data(run, write) -> None:
    row = only(run("plan", write("log.csv", [drain("F01", date(2026, 6, 1), 12.0)]), "--as-of", AS_OF, page=False))
    assert row["standing"] == "too few drains"
    assert row["interval_h"] <= 1.25 * 12.0
    assert row["interval_high_h"] > 4 * row["interval_low_h"]


def test_an_empty_log_is_one_clear_line(run, write) -> None:
    outcome = run("plan", write("log.csv", []), "--as-of", AS_OF, page=False)
    assert outcome.status == 1
    assert outcome.printed.count("\n") == 1


def test_every_drain_clean_goes_one_cautious_step_beyond_the_longest_fill(run, write) -> None:
    rows = [row | {"colour_rating": 1, "debris_rating": 1} for row in simple_log(4, 8)]
    longest = max(row["oil_hours"] for row in rows)
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF, pictures=False)
    table = outcome.table("next_service")
    assert (table["interval_h"] <= 1.25 * longest).all()
    assert set(table["standing"]) == {"with the fleet"}
    assert "ask whether anyone looks" in outcome.page()


def test_every_drain_worst_gives_hours_below_all_that_were_seen(run, write) -> None:
    rows = [row | {"colour_rating": 5, "debris_rating": 5} for row in simple_log(3, 6)]
    table = run("plan", write("log.csv", rows), "--as-of", AS_OF, page=False).table("next_service")
    assert (table["interval_h"] < min(row["oil_hours"] for row in rows)).all()


def test_every_drain_at_the_same_hours_is_not_extended_and_says_so(run, write) -> None:
    rows = [row | {"oil_hours": 15.0} for row in simple_log(4, 8)]
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF, pictures=False)
    assert (outcome.table("next_service")["interval_h"] <= 1.25 * 15.0).all()
    assert "cannot tell hours apart" in outcome.page()


def test_a_fleet_of_two_calls_neither(run, write) -> None:
    rows = simple_log(2, 6)
    for row in rows[:6]:
        row["debris_rating"] = min(5, row["debris_rating"] + 1)
    table = run("plan", write("log.csv", rows), "--as-of", AS_OF, page=False).table("next_service")
    assert set(table["standing"]) <= {"with the fleet", "too few drains"}
    assert (table["hours_ratio_high"] > 1.5 * table["hours_ratio_low"]).all()


def test_a_unit_with_no_drains_gets_the_fleets_values_marked_and_early(run, write) -> None:
    units = write("units.csv", [{"unit_id": name} | {"spring_type": "Plain 46"} for name in ("U01", "U02", "N01")])
    outcome = run("plan", write("log.csv", simple_log(2, 8)), "--units", units, "--as-of", AS_OF, pictures=False)
    table = outcome.table("next_service")
    new = table.filter(pl.col("unit_id") == "N01").row(0, named=True)
    known = table.filter(pl.col("unit_id") == "U01").row(0, named=True)
    assert new["standing"] == "too few drains"
    assert new["hours_on_oil_basis"] == "estimated"
    assert new["due_on"] == date.fromisoformat(AS_OF)
    assert new["interval_high_h"] / new["interval_low_h"] > known["interval_high_h"] / known["interval_low_h"]
    assert "its values are the fleet" in outcome.page()


def test_a_meter_that_was_reset_gives_no_negative_hours_and_is_noted(run, write) -> None:
    rows = simple_log(2, 6)
    for unit in range(2):
        reading = 100.0
        for row in reversed(rows[6 * unit : 6 * unit + 6]):
            reading = 5.0 if unit == 0 and row is rows[2] else reading + row["oil_hours"]
            row["meter_hours"], row["oil_hours"] = round(reading, 1), ""
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF, pictures=False)
    assert outcome.status == 0
    assert "reset" in outcome.page()
    assert outcome.table("next_service")["interval_h"].min() > 0


def test_a_harsher_rater_on_shared_units_does_not_blame_the_units(run, write) -> None:
    rows = simple_log(6, 20, seed=3)
    rng = np.random.default_rng(5)
    for row in rows:
        row["rated_by"] = str(rng.choice(["KB", "MO", "TW"]))
        if row["rated_by"] == "MO":
            row["debris_rating"] = min(5, row["debris_rating"] + 1)
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF, pictures=False)
    assert set(outcome.table("next_service")["standing"]) == {"with the fleet"}
    assert re.search(r"MO[^.]*rates? dirtier|MO[^.]*harsher", text_of(outcome.page()))


def test_identical_ids_at_two_sites_are_two_units(run, write) -> None:
    north = simple_log(2, 6, seed=1, site="north")
    south = simple_log(2, 6, seed=2, site="south")
    outcome = run("plan", write("log.csv", north + south), "--as-of", AS_OF, page=False)
    table = outcome.table("next_service")
    assert sorted(zip(table["unit_id"], table["site"], strict=True)) == [
        ("U01", "north"),
        ("U01", "south"),
        ("U02", "north"),
        ("U02", "south"),
    ]
    assert set(table["drains"]) == {6}


def test_week_long_settling_is_not_compared_raw(run, write) -> None:
    """Half of the ratings after a week, a level dirtier: units rated late must not look faster."""
    rows = simple_log(6, 12, seed=4)
    for at, row in enumerate(rows):
        late = at % 2 == 1
        row["settle_hours"] = 168 if late else 0.167
        if late:
            row["debris_rating"] = min(5, row["debris_rating"] + 1)
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF, page=False)
    assert set(outcome.table("next_service")["standing"]) == {"with the fleet"}


def test_spring_and_rider_that_always_go_together_are_named(run, write) -> None:
    rows = simple_log(4, 8)
    for at, row in enumerate(rows):
        row["spring_type"], row["rider"] = ("Plain 46", "Brask") if at < 16 else ("Stepped 46", "Ollin")
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF, pictures=False)
    assert "distinguished from spring type" in outcome.page()


def test_hours_that_run_on_never_make_the_answer_better(run, write) -> None:
    """The same log a week later, with nothing ridden that is known: hours grow, or are past any fill in the log.

    Such hours are not known any more, and the unit is due.
    """
    log = write("log.csv", simple_log(3, 8))
    first = run("plan", log, "--as-of", AS_OF, page=False).table("next_service")
    later_day = date.fromisoformat(AS_OF) + timedelta(days=7)
    later = run("plan", log, "--as-of", later_day.isoformat(), page=False).table("next_service")
    hours = pl.col("hours_on_oil").cast(pl.Float64)
    joined = first.select("unit_id", first=hours).join(
        later.select("unit_id", "due_on", later=hours, left=pl.col("hours_left").cast(pl.Float64)), on="unit_id"
    )
    past = joined.filter(pl.col("later").is_null())
    assert joined["first"].is_not_null().all()
    assert joined.drop_nulls("later").select((pl.col("later") >= pl.col("first")).all()).item()
    assert past["left"].null_count() == past.height
    assert past["due_on"].cast(pl.String).to_list() == [later_day.isoformat()] * past.height


def test_hostile_unit_names_stay_text(run, write) -> None:
    names = ("<script>alert(1)</script>", '"><img src=x onerror=y>', "=1+1", "x" * 64, "🛠 F01", "../../up")
    rows = [row | {"unit_id": name} for name in names for row in simple_log(1, 4)]
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF)
    assert outcome.status in (0, 3)
    assert outcome.table("next_service").height == len(names)
    assert "<script>alert" not in outcome.page()
    assert "<img src=x" not in outcome.page()
    for line in (outcome.folder / "next_service.csv").read_text().splitlines():
        assert not line.startswith(("=", '"='))


def test_the_truth_of_the_spring_trial_is_inside_the_ranges(run) -> None:
    folder = SAMPLES / "spring_trial"
    side = [word for name in ("units", "usage", "bookings") for word in (f"--{name}", folder / f"{name}.csv")]
    outcome = run(
        "plan", folder / "drains.csv", *side, "--settings", folder / "settings.toml", "--as-of", AS_OF, page=False
    )
    truth = json.loads((folder / "truth.json").read_text())
    table = outcome.table("next_service")
    inside = [
        row["interval_low_h"] <= truth["units"][row["unit_id"]]["hours_at_risk"] <= row["interval_high_h"]
        for row in table.iter_rows(named=True)
    ]
    assert np.mean(inside) >= 0.75


def test_a_spring_of_one_rider_gets_no_verdict_and_a_swap_is_proposed(run, write) -> None:
    rows = simple_log(8, 8, seed=6)
    for at, row in enumerate(rows):
        if at < 24:
            row |= {"spring_type": "Stepped 46", "rider": "Tevik", "debris_rating": min(5, row["debris_rating"] + 2)}
            rows[at] = row
        else:
            row["rider"] = ["Brask", "Ollin"][at % 2]
    log = write("log.csv", rows)
    outcome = run("springs", log, "--as-of", AS_OF, out=False)
    assert outcome.status == 0
    assert "cannot tell yet" in outcome.printed
    assert "sheds more" not in outcome.printed
    assert re.search(r"swap|on the other|Tevik", outcome.printed)
    effects = run("plan", log, "--as-of", AS_OF, page=False).table("spring_effects")
    assert set(effects["verdict"]) == {"cannot tell yet"}


def test_a_tenth_short_at_every_drain_is_no_leak_and_blames_no_unit(run, write) -> None:
    """Fill 520 ml, about 468 ml out each time: the drain is asked about, not a growing leak."""
    rows = simple_log(4, 8, seed=7)
    for at, row in enumerate(rows):
        row |= {"filled_ml": 520, "drained_ml": 468 + at % 3 if row["unit_id"] == "U01" else 508 + at % 3}
        rows[at] = row
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF, pictures=False)
    assert outcome.status == 0
    table = outcome.table("next_service")
    assert table.filter(pl.col("unit_id") == "U01")["standing"][0] == "with the fleet"
    assert "Inspect" not in text_of(outcome.page()).split("Before you act on it")[0]


def test_a_new_springs_run_in_is_not_taken_for_a_fast_unit(run, write) -> None:
    """First fill on each new spring two levels dirtier: the units that had new springs last are not called."""
    rows = simple_log(6, 12, seed=8)
    for at, row in enumerate(rows):
        fills_on_spring = 11 - at % 12
        row["spring_hours"] = round(row["oil_hours"] + 12.0 * (fills_on_spring % 6), 1)
        if fills_on_spring % 6 == 0:
            row["debris_rating"] = min(5, row["debris_rating"] + 2)
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF, page=False)
    assert set(outcome.table("next_service")["standing"]) == {"with the fleet"}
    debris = next(channel for channel in outcome.record()["channels"] if channel["channel"] == "debris")
    assert debris["why_not"] is None


def test_none_past_the_limit_shows_the_exact_bounds_beside_the_models(run, write) -> None:
    """0 of 30 drains bounds the share at 9.5 %, 0 of 10 units at 26 % (Clopper & Pearson 1934, one-sided 95 %)."""
    rows = [row | {"debris_rating": min(3, row["debris_rating"])} for row in simple_log(10, 3, seed=9, hours=(9, 22))]
    page = text_of(run("plan", write("log.csv", rows), "--as-of", AS_OF, pictures=False).page())
    assert "9.5 %" in page
    assert "26 %" in page


def test_hours_too_few_for_one_step_still_draw_a_picture(run, write) -> None:
    """Short fills, all rated worst: no step of half an hour keeps the risk, and the page says so."""
    rows = [drain("F01", date(2026, 6, 1 + at), 0.4, 5, 5) for at in range(4)]
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF)
    assert outcome.table("next_service")["interval_h"][0] == 0.0
    assert "less than one step" in outcome.page()
