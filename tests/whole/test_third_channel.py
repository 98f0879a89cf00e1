"""A channel is one entry: with a third one in place, every command reads, fits, decides, shows and asks for it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from printed_text import copied_pages

CHILD = Path(__file__).with_name("third_channel.py")
AS_OF = ("--as-of", "2026-06-20")
SHOP = "[limits]\nsmell_rating = 5\n[smell_words]\nrank = '5'\n"
COMMANDS = {
    "check": ("check", "drains.csv"),
    "check by name": ("check", "by_name.csv"),
    "check for a shop": ("check", "drains.csv", "--settings", "shop.toml"),
    "check a slip": ("check", "drains.csv", "--settings", "slip.toml"),
    "plan": ("plan", "drains.csv", "--out", "plan"),
    "plan without": ("plan", "without_smell.csv", "--out", "plan_without"),
    "springs": ("springs", "drains.csv"),
    "backtest": ("backtest", "drains.csv", "--out", "held"),
    "add": (
        *("add", "drains.csv", "--unit=F01", "--date=2026-06-19", "--hours=9", "--grade=Fork 5"),
        *("--spring=Plain 46", "--rider=Brask", "--smell=3"),
    ),
    "add off the scale": (
        *("add", "drains.csv", "--unit=F01", "--date=2026-06-20", "--hours=8", "--grade=Fork 5"),
        *("--spring=Plain 46", "--rider=Brask", "--smell=6"),
    ),
    "workbook": ("workbook", "book.xlsx"),
    "bench-card": ("bench-card", "--out", "card.pdf"),
    "nightly": ("nightly", "--init", "night.toml"),
}
UNDATED = ("bench-card", "nightly")


@dataclass(frozen=True)
class Bench:
    """What the commands left: the folder, and of each command its exit status and what it printed."""

    folder: Path
    status: dict[str, int]
    printed: dict[str, str]

    def table(self, name: str) -> pl.DataFrame:
        return pl.read_csv(self.folder / name, infer_schema_length=None)

    def text(self, name: str) -> str:
        return " ".join(" ".join(copied_pages((self.folder / name).read_bytes())).split())


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    folder = tmp_path_factory.mktemp("bench")
    (folder / "shop.toml").write_text(SHOP)
    (folder / "slip.toml").write_text("[limits]\nsmel_rating = 5\n")
    commands = [[*words, *(() if words[0] in UNDATED else AS_OF)] for words in COMMANDS.values()]
    ran = subprocess.run(
        [sys.executable, str(CHILD), str(folder), json.dumps(commands)],
        env=os.environ | {"PYTHONPATH": os.pathsep.join(map(str, CHILD.parents[1:3])), "NUMBA_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    ends = dict(zip(COMMANDS, json.loads(ran.stdout.splitlines()[-1]), strict=True))
    return Bench(folder, {name: end[0] for name, end in ends.items()}, {name: end[1] for name, end in ends.items()})


@pytest.mark.parametrize("check", ["check", "check by name"])
def test_its_column_is_read_under_its_own_headings(bench: Bench, check: str) -> None:
    """Its name alone would otherwise also be a heading of burnt, the sign of a smell."""
    assert bench.status[check] == 0
    assert "read 45 = accepted 45 + held back 0" in bench.printed[check]
    assert "not known" not in bench.printed[check]


def test_it_sets_the_interval_where_its_hours_are_the_shortest(bench: Bench) -> None:
    with_it, without = (bench.table(f"{folder}/next_service.csv") for folder in ("plan", "plan_without"))
    assert set(with_it["set_by"]) == {"smell"}
    assert "smell" not in set(without["set_by"])
    assert with_it["unit_id"].sort().to_list() == without["unit_id"].sort().to_list()
    hours = with_it.join(without, on="unit_id", suffix="_without").select("interval_h", "interval_h_without")
    assert (hours["interval_h"] < 6).all()
    assert (hours["interval_h_without"] > 2 * hours["interval_h"]).all()
    assert set(bench.table("plan/fleet_intervals.csv")["set_by"]) == {"smell"}
    assert set(bench.table("plan/spring_effects.csv")["channel"]) == {"colour", "smell"}


def test_its_limit_and_its_words_are_settings(bench: Bench) -> None:
    settings = json.loads((bench.folder / "plan/run.json").read_text())["settings"]
    assert settings["limits"] == {"colour_rating": 4, "debris_rating": 4, "smell_rating": 3}
    assert settings["smell_words"] == {}
    assert bench.status["check for a shop"] == 0
    assert bench.status["check a slip"] == 1
    assert "[limits] smel_rating: unknown setting; did you mean smell_rating?" in bench.printed["check a slip"]
    night = (bench.folder / "night.toml").read_text()
    assert "\n#smell_rating = 3\n" in night
    assert '\n#smell_words = { rank = "5" }\n' in night


def test_the_report_shows_it(bench: Bench) -> None:
    page = (bench.folder / "plan/report.html").read_text()
    for part in (
        '<section id="channel-smell"',
        "Smell is past its limit when rated 3 or worse.",
        '<h3 id="channel-smell-title">',
        '<h4 id="springs-smell">Smell</h4>',
        "for colour, read it as darkens the oil sooner; for smell, read it as spoils its smell sooner.",
        "or debris 4 or worse, or smell 3 or worse",
        '<h4 id="scale-smell">Smell</h4>',
        "<li>faintly sour</li>",
        "Smell the sample as soon as it is drained.",
        "<dd>the chance that the oil is past fit reaches the accepted risk; smell gives most of it</dd>",
    ):
        assert part in page, part
    printed = bench.text("plan/report.pdf")
    assert "Smell: past its limit when rated 3 or worse" in printed
    assert "faintly sour" in printed
    tables = openpyxl.load_workbook(bench.folder / "plan/tables.xlsx", read_only=True)
    cells = {
        name: {cell for row in tables[name].iter_rows(values_only=True) for cell in row} for name in tables.sheetnames
    }
    assert "smell" in cells["next_service"] & cells["spring_effects"] & cells["read me"]
    assert "one row for each pair of springs and each of colour, debris and smell" in cells["read me"]


def test_a_rating_that_shows_a_sign_is_on_the_first_screen(bench: Bench) -> None:
    log = bench.table("drains.csv").head(45).sort("drained_on", maintain_order=True)
    last = log.group_by("unit_id").agg(pl.col("Nose").last())
    foul = last.filter(pl.col("Nose") == 5)["unit_id"].to_list()
    assert 0 < len(foul) < 5
    shown = json.loads((bench.folder / "plan/run.json").read_text())["inspect_now"]
    assert {row["unit_id"]: row["signs"] for row in shown} == dict.fromkeys(foul, "foul oil")


def test_springs_and_earlier_predictions_are_judged_by_it(bench: Bench) -> None:
    assert "\nsmell:\n" in bench.printed["springs"]
    held = bench.table("held/backtest.csv")
    assert set(held["channel"]) == {"colour", "smell"}


def test_a_drain_is_added_with_it(bench: Bench) -> None:
    assert bench.status["add"] == 0
    assert bench.table("drains.csv")["Nose"].to_list()[-1] == 3
    assert bench.status["add off the scale"] == 1
    assert "smell_rating = 6: is not on the scale" in bench.printed["add off the scale"]
    assert bench.table("drains.csv").height == 46


def test_the_workbook_asks_for_it(bench: Bench) -> None:
    book = openpyxl.load_workbook(bench.folder / "book.xlsx")
    headings = {cell.value: cell for cell in book["drains"][1]}
    place = headings["smell_rating (1 to 5)"]
    rules = {str(rule.sqref): rule.formula1 for rule in book["drains"].data_validations.dataValidation}
    assert rules[f"{place.column_letter}2:{place.column_letter}1001"].startswith('"1,2,3,4,5,1-2,')
    assert place.comment.text.endswith("Fill in this or colour_rating or debris_rating.")
    rows = [row[:4] for row in book["scales"].iter_rows(min_row=3, max_row=8, values_only=True)]
    assert rows[0] == ("level", "colour", "debris", "smell")
    assert [row[3] for row in rows[1:]] == ["as new", "faintly sour", "sour", "sharp", "foul"]


def test_the_bench_card_has_a_field_for_it(bench: Bench) -> None:
    assert len(copied_pages((bench.folder / "card.pdf").read_bytes())) == 1
    card = bench.text("card.pdf")
    assert "faintly sour" in card
    assert card.count("Smell") >= card.count("Minutes settled") + 1 >= 2
    assert card.count("Colour") == card.count("Smell")
