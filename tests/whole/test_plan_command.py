"""The main job on the samples and on small logs: files, exit status, accounting, same bytes, clear failures."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import polars as pl
import pytest
from small_logs import AS_OF, Outcome, drain, run_program, simple_log

from draincurve.schemas.fleet_intervals_table import COLUMNS as FLEET_COLUMNS
from draincurve.schemas.next_service_table import COLUMNS as NEXT_COLUMNS

SAMPLES = Path(__file__).parents[2] / "sample_data"
FILES = {
    "next_service.csv", "fleet_intervals.csv", "forecast.csv", "held_back.csv", "tables.xlsx", "service.ics",
    "run.json", "report.html",
}  # fmt: skip


def sides(folder: Path) -> list[str | Path]:
    found: list[str | Path] = ["--settings", folder / "settings.toml", "--as-of", AS_OF]
    for name in ("units", "usage", "bookings"):
        if (folder / f"{name}.csv").exists():
            found += [f"--{name}", folder / f"{name}.csv"]
    return found


@pytest.fixture(scope="module")
def race_team(tmp_path_factory) -> Outcome:
    folder = SAMPLES / "race_team"
    out = tmp_path_factory.mktemp("race") / "out"
    return run_program("plan", folder / "drains.csv", *sides(folder), out=out)


def test_race_team_writes_every_file_and_says_that_rows_were_held_back(race_team) -> None:
    assert race_team.status == 3
    assert {item.name for item in race_team.folder.iterdir()} >= FILES
    assert "read 192 = accepted 181 + held back 11" in race_team.printed


def test_race_team_tables_have_the_columns_of_the_contract(race_team) -> None:
    assert tuple(pl.read_csv(race_team.folder / "next_service.csv").columns) == tuple(NEXT_COLUMNS)
    assert tuple(pl.read_csv(race_team.folder / "fleet_intervals.csv").columns) == tuple(FLEET_COLUMNS)


def test_race_team_has_one_row_a_unit_in_service(race_team) -> None:
    register = pl.read_csv(SAMPLES / "race_team" / "units.csv", infer_schema_length=0)
    name, service = register.columns[0], next(column for column in register.columns if "service" in column.lower())
    in_service = {row[name] for row in register.iter_rows(named=True) if row[service] != "no"}
    table = pl.read_csv(race_team.folder / "next_service.csv")
    assert sorted(table["unit_id"]) == sorted(in_service)


def test_race_team_held_back_rows_are_those_planted(race_team) -> None:
    truth = json.loads((SAMPLES / "race_team" / "truth.json").read_text())
    planted = {item["line"] for item in truth["expected"] if item["verdict"] == "held back"}
    held = pl.read_csv(race_team.folder / "held_back.csv", infer_schema_length=0)
    assert {int(line) for line in held["line"]} == planted


def test_race_team_page_shows_the_signs_first(race_team) -> None:
    page = race_team.page()
    first = page[: page.index("Before you act on it")]
    assert "milky" in first
    assert "leak" in first


def test_race_team_intervals_cover_most_true_hours(race_team) -> None:
    """90 % ranges of hours at 10 % risk against the truth: at least 12 of 16, whose chance is over 97 %."""
    truth = json.loads((SAMPLES / "race_team" / "truth.json").read_text())
    table = {row["unit_id"]: row for row in pl.read_csv(race_team.folder / "next_service.csv").iter_rows(named=True)}
    inside = 0
    for unit, true in truth["units"].items():
        if unit in table:
            inside += table[unit]["interval_low_h"] <= true["hours_at_risk"] <= table[unit]["interval_high_h"]
    assert inside >= 12


@pytest.mark.usefixtures("without_evidence")
def test_track_school_finds_planted_units_and_little_else(run) -> None:
    folder = SAMPLES / "track_school"
    outcome = run("plan", folder / "log.xlsx", *sides(folder), page=False)
    truth = json.loads((folder / "truth.json").read_text())
    assert outcome.status in (0, 3)
    table = outcome.table("next_service")
    called = set(table.filter(pl.col("standing") == "faster than the fleet")["unit_id"])
    assert called & set(truth["planted_units"])
    assert len(called - set(truth["faster_units"])) <= 1
    maker = pl.read_excel(folder / "log.xlsx", sheet_name="units")
    assert (table["interval_h"] <= 40).all()
    assert maker.height == 122


@pytest.mark.usefixtures("without_evidence")
def test_rows_in_another_order_give_the_same_tables(run, write) -> None:
    rows = simple_log(4, 6)
    first = run("plan", write("a.csv", rows), "--as-of", AS_OF, page=False)
    second = run("plan", write("b.csv", rows[::-1]), "--as-of", AS_OF, page=False)
    one, two = first.table("next_service"), second.table("next_service")
    assert one.select("unit_id", "interval_h", "due_on").equals(two.select("unit_id", "interval_h", "due_on"))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("acepted_risk = 0.1", "did you mean accepted_risk"),
        ("accepted_risk = 1.5", "from 0.001 to 0.9"),
        ("[limits]\ncolour_rating = 1", "colour_rating"),
        ("[costs]\nchange = 10", "both change and late"),
        ("accepted_risk =", "not a TOML file"),
    ],
)
def test_bad_settings_fail_in_one_line(run, write, tmp_path: Path, text: str, words: str) -> None:
    settings = tmp_path / "settings.toml"
    settings.write_text(text)
    outcome = run("plan", write("log.csv", simple_log(2, 3)), "--settings", settings, "--as-of", AS_OF)
    assert outcome.status == 1
    assert words in outcome.printed
    assert outcome.printed.count("\n") == 1
    assert not outcome.folder.exists()


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02", b"unit_id,drained_on\n", b"hello"])
def test_what_is_no_log_fails_in_one_line(run, tmp_path: Path, content: bytes) -> None:
    log = tmp_path / "log.csv"
    log.write_bytes(content)
    outcome = run("plan", log, "--as-of", AS_OF)
    assert outcome.status == 1
    assert outcome.printed.startswith("draincurve: ")
    assert outcome.printed.count("\n") == 1
    assert not outcome.folder.exists()


def test_a_missing_file_fails_in_one_line(run, tmp_path: Path) -> None:
    outcome = run("plan", tmp_path / "nowhere.csv")
    assert outcome.status == 1
    assert "nowhere.csv" in outcome.printed


def test_wrong_usage_is_status_2(run, write) -> None:
    log = write("log.csv", simple_log(2, 2))
    assert run("plan", log, out=False).status == 2
    assert run("plan", log, "--as-of", "20 June").status == 2
    assert run("plan", log, "--no-such-option").status == 2


def test_a_log_with_every_row_held_back_still_accounts_for_them(run, write) -> None:
    rows = [drain("F01", date(2026, 1, 1 + day), 0) for day in range(3)]
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF, page=False)
    assert outcome.status == 3
    assert outcome.table("held_back").height == 3
    assert outcome.table("next_service").height == 0


@pytest.mark.usefixtures("without_evidence")
def test_caps_stand_over_the_model(run, write, tmp_path: Path) -> None:
    settings = tmp_path / "settings.toml"
    settings.write_text("[caps]\nmax_interval_h = 3.3\nmax_oil_days = 30")
    outcome = run("plan", write("log.csv", simple_log(3, 6)), "--settings", settings, "--as-of", AS_OF, page=False)
    table = outcome.table("next_service")
    assert (table["interval_h"] <= 3.0).all()
    assert "maker_limit" in set(table["set_by"])
    assert (table["due_on"] <= pl.Series(table["last_drained_on"]).dt.offset_by("30d")).all()
    assert outcome.table("fleet_intervals")["interval_h"].max() <= 3.0


def test_check_prints_the_accounting_and_writes_what_was_held_back(run, write) -> None:
    rows = simple_log(2, 3)
    rows[1] = rows[1] | {"colour_rating": 9}
    outcome = run("check", write("log.csv", rows), "--as-of", AS_OF)
    assert outcome.status == 3
    assert "read 6 = accepted 5 + held back 1" in outcome.printed
    held = outcome.table("held_back")
    assert held["line"].to_list() == [3]
    assert held["column"].to_list() == ["colour_rating"]
    assert run("check", write("good.csv", simple_log(2, 3)), "--as-of", AS_OF, out=False).status == 0


def test_quiet_prints_nothing(run, write) -> None:
    outcome = run("plan", write("log.csv", simple_log(2, 3)), "--as-of", AS_OF, "--quiet", page=False)
    assert outcome.printed == ""


def test_simulate_writes_a_fleet_with_its_truth(run) -> None:
    outcome = run("simulate", "--scenario", "spring_trial", "--seed", "5", "--units", "4", "--drains", "20")
    assert outcome.status == 0
    assert (outcome.folder / "truth.json").exists()
    assert run("check", outcome.folder / "drains.csv", "--as-of", AS_OF, out=False).status in (0, 3)
