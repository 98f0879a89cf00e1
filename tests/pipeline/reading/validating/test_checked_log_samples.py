"""The sample logs against their own truth: what was planted is found, and nothing else is held back."""

import json
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from draincurve import sample_data
from draincurve.pipeline.reading.sources import read_table
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.pipeline.reading.validating.checked_log import Log, check_log
from draincurve.schemas.settings import read_settings

SAMPLES = Path(sample_data.__file__).parent


def checked(name: str) -> tuple[Log, list[dict[str, object]]]:
    folder = SAMPLES / name
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    log = next(path for path in (folder / "drains.csv", folder / "log.xlsx") if path.exists())
    sides = {path.stem: read_table(path, path.stem) for path in folder.glob("*.csv") if path != log}
    found = check_log(
        read_log(log) | sides, read_settings(folder / "settings.toml"), as_of=date.fromisoformat(truth["as_of"])
    )
    return found, truth["expected"]


@pytest.mark.parametrize("name", ["race_team", "spring_trial", "track_school"])
def test_exactly_the_planted_rows_are_held_back(name: str) -> None:
    log, expected = checked(name)
    planted = {(item["table"], item["line"]) for item in expected if item["verdict"] == "held back"}
    assert set(log.held_back.select("table", "line").iter_rows()) == planted
    for item in expected:
        if item["verdict"] == "held back":
            row = log.held_back.filter((pl.col("table") == item["table"]) & (pl.col("line") == item["line"]))
            assert str(item["column"]) in row["column"][0]
    assert all(account.read == account.accepted + account.held_back for account in log.accounts)


def test_planted_oddities_are_kept_and_remarked_on() -> None:
    log, expected = checked("race_team")
    kept = {"asked": "asked", "noted": "note"}
    for item in expected:
        if item["verdict"] in kept:
            remarks = log.remarks.filter(
                (pl.col("kind") == kept[str(item["verdict"])])
                & (pl.col("column") == item["column"])
                & (pl.col("line").is_null() | (pl.col("line") == item["line"]))
            )
            assert remarks.height, item
    lines = log.accepted["drains"].filter(pl.col("service_kind") == "top-up")["line"].to_list()
    assert sorted(lines) == [item["line"] for item in expected if item["verdict"] == "kept, no drain"]


def test_the_tables_beside_the_log_of_the_race_team_agree_with_it() -> None:
    log, _ = checked("race_team")
    others = log.asked.filter(pl.col("source").is_in(["parts.csv", "measurements.csv", "usage.csv", "bookings.csv"]))
    assert others["message"].to_list() == []
