"""Questions are printed by every command that reads, counted in the record, and said on the first screen."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from small_logs import AS_OF, drain, simple_log

ASKED = "3 rows asked about"


def questionable() -> list[dict]:
    """A log with three rows that are asked about: a long fill, much oil missing, and a leak."""
    rows = [row | {"filled_ml": 500, "drained_ml": 490, "leak": ""} for row in simple_log(4, 6, hours=(9.0, 14.0))]
    rows[2]["oil_hours"] = 150
    rows[8]["drained_ml"] = 210
    rows[13]["leak"] = "yes"
    return rows


@pytest.mark.parametrize("command", ["check", "plan", "springs", "backtest"])
def test_every_command_says_what_is_asked(run, write, command: str) -> None:
    outcome = run(
        command, write("log.csv", questionable()), "--as-of", AS_OF, out=command in ("plan", "backtest"), page=False
    )
    assert outcome.status == 0
    assert ASKED in outcome.printed
    for line, cell in ((15, "leak = yes: "), (10, "drained_ml = 210: ")):
        assert any(f"line {line}" in said and cell in said for said in outcome.printed.splitlines())
    assert "oil_hours = 150" in outcome.printed


@pytest.mark.parametrize("command", ["check", "plan", "springs", "backtest"])
def test_quiet_says_nothing(run, write, command: str) -> None:
    log = write("log.csv", questionable())
    outcome = run(command, log, "--as-of", AS_OF, "--quiet", out=command in ("plan", "backtest"), page=False)
    assert (outcome.status, outcome.printed) == (0, "")


def test_the_record_and_the_page_count_what_is_asked(run, write) -> None:
    outcome = run("plan", write("log.csv", questionable()), "--as-of", AS_OF, pictures=False)
    asked = outcome.record()["asked"]
    assert asked["rows"] == 3
    assert asked["count"] == len(asked["list"]) >= 3
    leak = next(item for item in asked["list"] if item["column"] == "leak")
    assert (leak["source"], leak["line"], leak["value"]) == ("log.csv", 15, "yes")
    answer = outcome.page().split('<section id="answer"')[1].split("</section>\n</section>")[0]
    assert "questions to whoever wrote the log (" in answer
    assert "on 2 rows" in answer
    assert "sign of a fault" not in answer, "which leaves nothing to answer, and is among what is to inspect"
    assert "drained ml = 210" in answer, "the page names columns in words"


def test_a_log_without_questions_says_none(run, write) -> None:
    outcome = run("plan", write("log.csv", simple_log(4, 6, hours=(9.0, 14.0))), "--as-of", AS_OF, page=False)
    assert "asked about" not in outcome.printed
    assert "by assumption" not in outcome.printed
    assert outcome.record()["asked"] == {"count": 0, "rows": 0, "list": []}
    assert outcome.record()["assumed"] == {"cells": 0, "list": []}


def test_what_was_read_by_assumption_is_counted_everywhere(run, write) -> None:
    typed = {
        "oil_hours": ("11?", "ca. 12", "9+3"),
        "colour_rating": ("dark", "2+", "amber"),
        "drained_on": ("04/05/2026", "14/05/2026", "46146"),
        "spring_type": ('"', "ditto", '"'),
    }
    rows = simple_log(4, 6, hours=(9.0, 14.0))
    for column, texts in typed.items():
        for at, text in enumerate(texts, 3):
            rows[at][column] = text
    log = write("log.csv", rows)
    outcome = run("plan", log, "--as-of", AS_OF, pictures=False)
    columns = "colour_rating (3), oil_hours (3), spring_type (3) and drained_on (2)"
    line = f"11 cells read by assumption, in the columns {columns}"
    assert line in outcome.printed
    for command in ("check", "springs"):
        assert line in run(command, log, "--as-of", AS_OF, out=False).printed
    assumed = outcome.record()["assumed"]
    assert assumed["cells"] == sum(item["cells"] for item in assumed["list"]) == 11
    assert f"{line.replace('_', ' ')}." in outcome.page().split('<section id="answer"')[1]


def test_an_assumed_encoding_is_said_on_the_terminal_and_in_the_record(run, write, tmp_path: Path) -> None:
    log = write("log.csv", [row | {"rider": "Gören"} for row in simple_log(3, 5)])
    latin = tmp_path / "latin.csv"
    latin.write_bytes(log.read_text(encoding="utf-8").encode("cp1252"))
    outcome = run("plan", latin, "--as-of", AS_OF, page=False)
    [note] = [note for note in outcome.record()["notes"]["reading"] if "indows-1252" in note["message"]]
    assert note["source"] == "latin.csv"
    assert f"note: latin.csv: {note['message']}" in outcome.printed


def test_control_characters_reach_no_terminal(run, write) -> None:
    evil = "F\x1b]0;owned\x07\u202e01"
    rows = [*simple_log(3, 5), drain(evil, date(2026, 6, 1), -4), drain("F09", date(2026, 6, 1), 700, rider=evil)]
    for command in ("check", "springs"):
        printed = run(command, write("log.csv", rows), "--as-of", AS_OF, out=False).printed
        assert "held back" in printed
        assert not {"\x1b", "\x07", "\u202e"} & set(printed)
    missing = run("check", "no\x1b]0;such.csv", out=False)
    assert missing.status == 1
    assert "no\\u001b]0;such.csv" in missing.printed


def test_check_says_what_the_accepted_rows_count_as(run, write) -> None:
    rows = [row | {"rated_by": "Ana", "service_kind": ""} for row in simple_log(3, 6, hours=(9.0, 14.0))]
    rows[4]["service_kind"] = "top-up"
    log = write("log.csv", [*rows, rows[9] | {"rated_by": "Bo", "colour_rating": 1}])
    printed = run("check", log, "--as-of", AS_OF, out=False).printed.splitlines()
    assert printed[1] == "of 19 accepted: 17 drains, 1 second rating, 1 top-up"


def test_check_asks_by_unit_and_day_first_and_names_both(run, write) -> None:
    rows = simple_log(4, 8, hours=(9.0, 14.0))
    for at, hours in ((20, 150), (3, 160), (1, 170), (9, -2)):
        rows[at]["oil_hours"] = hours
    printed = run("check", write("log.csv", rows), "--as-of", AS_OF, out=False).printed
    places = [line.split(", oil_hours")[0] for line in printed.splitlines() if line.startswith(("asked", "held"))]
    assert places == [
        "asked: log.csv line 5 (U01, 2026-05-11)",
        "asked: log.csv line 3 (U01, 2026-05-31)",
        "asked: log.csv line 22 (U03, 2026-05-01)",
        "held back: log.csv line 11 (U02, 2026-05-31)",
    ]


def test_check_names_the_rows_of_one_habit_in_one_line(run, write) -> None:
    rows = simple_log(4, 8, hours=(9.0, 14.0))
    for at in range(0, 32, 3):
        rows[at]["colour_rating"] = "3-"
    log = write("log.csv", rows)
    printed = run("check", log, "--as-of", AS_OF, out=False).printed.splitlines()
    [line] = [line for line in printed if line.startswith("held back: log.csv")]
    places = "lines 2, 5, 8, 11, 14, 17, 20, 23 and 3 more, units U01, U02, U03, U04"
    assert line.startswith(f"held back: log.csv: colour_rating = 3- in 11 rows ({places}): may be better than 3")
    assert printed[-2:] == ["[words.colour_rating]", '# 3- = ""  # 2-3 or 3-4; empty: not rated']
    assert any("begin with # need a decision" in line for line in printed)
    verbose = run("check", log, "--as-of", AS_OF, "--verbose", out=False).printed
    assert verbose.count("held back: log.csv line ") == 11


def test_check_shows_the_commonest_problems_first_and_bounds_the_rest(run, write) -> None:
    rows = [*simple_log(4, 30, hours=(9.0, 14.0)), *(drain("U01", date(2026, 1, 1), f"lots {n}") for n in range(60))]
    log = write("log.csv", rows)
    short = run("check", log, "--as-of", AS_OF, out=False).printed.splitlines()
    assert short[2] == "60 rows held back"
    assert short[4].startswith("  60 times, first in line 122 (U01, 2026-01-01): oil_hours = lots 0: ")
    assert len(short) < 40
    assert any(line.startswith("and 40 more: ") for line in short)
    whole = run("check", log, "--as-of", AS_OF, "--verbose", out=False).printed
    assert whole.count("held back: log.csv line ") == 60


def test_few_problems_are_printed_once_and_add_up_to_what_is_counted(run, write) -> None:
    rows = [row | {"filled_ml": 500, "drained_ml": 490, "leak": ""} for row in simple_log(4, 6, hours=(9.0, 14.0))]
    rows[2] |= {"drained_ml": 210, "leak": "yes"}
    rows[8]["oil_hours"] = 150
    rows[13]["rider"] = "Braks"
    rows[15]["colour_rating"] = 6
    printed = run("check", write("log.csv", rows), "--as-of", AS_OF, out=False).printed.splitlines()
    counts = "2 rows asked about in 2 questions and 1 sign of a fault, 1 question about the whole log"
    assert printed[2] == f"1 row held back, {counts}"
    assert sum(line.startswith("asked: ") for line in printed) == 3 + 1
    assert sum(line.startswith("held back: ") for line in printed) == 1
    assert "the commonest problems:" not in printed
    for said in ("leak = yes", "oil_hours = 150", "Braks' and 'Brask", "colour_rating = 6", "little oil came out"):
        assert sum(said in line for line in printed) == 1
    plan = run("springs", write("log.csv", rows), "--as-of", AS_OF, out=False).printed
    assert f"{counts}:" in plan


def test_a_night_counts_what_is_asked(run, write, tmp_path: Path) -> None:
    log = write("log.csv", questionable())
    settings = tmp_path / "night.toml"
    settings.write_text(f'[sources]\nlog = "{log.name}"\n[output]\nfolder = "reports"\n', encoding="utf-8")
    for status in ("done", "unchanged"):
        outcome = run("nightly", settings, "--as-of", AS_OF, out=False)
        line = json.loads(outcome.printed)
        assert (line["status"], line["rows_asked_about"]) == (status, 3)
        assert line["questions"] >= 3


def test_totals_are_no_problem_and_are_counted(run, write) -> None:
    rows = simple_log(3, 6, hours=(9.0, 14.0))
    total = dict.fromkeys(rows[0], "") | {"unit_id": "Total", "oil_hours": "210"}
    log = write("log.csv", [*rows[:9], total, *rows[9:], total])
    outcome = run("plan", log, "--as-of", AS_OF, pictures=False)
    assert outcome.status == 0
    assert "held back 2 (2 of them totals" in outcome.printed
    assert "`draincurve check` shows why" not in outcome.printed
    assert "All 18 rows of the log were accepted." in outcome.page()
    assert "held back: " not in run("check", log, "--as-of", AS_OF, out=False).printed
    assert run("check", log, "--as-of", AS_OF, "--verbose", out=False).printed.count("held back: log.csv line ") == 2


def test_units_without_a_usable_drain_are_each_named(run, write) -> None:
    rows = [row | {"colour_rating": "C?", "debris_rating": "D?"} for row in simple_log(3, 4)]
    said = run("check", write("log.csv", rows), "--as-of", AS_OF, out=False).printed
    for unit in ("U01", "U02", "U03"):
        assert f"asked: log.csv, unit_id = {unit}: none of its drains can be used" in said


def test_a_sample_of_several_values_is_asked_about_once_with_its_cell(run, write, tmp_path) -> None:
    laboratory = tmp_path / "laboratory.csv"
    laboratory.write_text("Unit,Sampled,Fe,Cu,Si\nU01,2025-01-02,12,1,3\n")
    log = write("log.csv", simple_log(4, 6, hours=(9.0, 14.0)))
    printed = run("check", log, "--measurements", laboratory, "--as-of", AS_OF).printed
    (asked,) = (line for line in printed.splitlines() if line.startswith("asked"))
    assert asked.startswith("asked: laboratory.csv line 2 (U01, 2025-01-02), measured_on = 2025-01-02: is of no")
    assert "each value of a sample counts as a row, 3 in all\n" in printed
