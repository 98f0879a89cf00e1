"""The settings that findings propose, as one block that the settings file takes."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest
from invented_report import AS_OF, empty_log

from draincurve.pipeline.reading import Log
from draincurve.pipeline.reading.validating.accounting import REMARKS_SCHEMA
from draincurve.reports.content.settings_block import settings_block
from draincurve.schemas.checked_settings import toml_key, toml_text
from draincurve.schemas.settings import read_settings
from draincurve.schemas.shown_text import shown


def log_with(*settings: str | None) -> Log:
    """A log whose questions propose these settings."""
    rows = [
        ("log.csv", line, "F01", "2026-03-04", "rider", "x", "asked", "who?", None, text)
        for line, text in enumerate(settings)
    ]
    return replace(empty_log(AS_OF, "log.csv"), remarks=pl.DataFrame(rows, schema=REMARKS_SCHEMA, orient="row"))


def test_proposals_for_one_table_are_together_and_each_is_there_once() -> None:
    block = settings_block(
        log_with(
            '[words.unit_id]\n"FO1" = "F01"',
            '[headers]\nrider = ["Pilot"]',
            None,
            '[words.unit_id]\n"F1 (left)" = "F01"',
            '[headers]\nrider = ["Driver"]',
            '[words.unit_id]\n"FO1" = "F01"',
            'date_order = "day first"',
        )
    )
    assert block == (
        'date_order = "day first"',
        "[words.unit_id]",
        'FO1 = "F01"',
        '"F1 (left)" = "F01"',
        "[headers]",
        'rider = ["Pilot", "Driver"]',
    )


def test_a_second_answer_to_one_question_is_a_comment() -> None:
    block = settings_block(log_with('[words.rider]\nAnn = "Anne"', '[words.rider]\nAnn = "Ann"'))
    assert block == ("[words.rider]", 'Ann = "Anne"', '# or Ann = "Ann"')
    assert tomllib.loads("\n".join(block)) == {"words": {"rider": {"Ann": "Anne"}}}


@pytest.mark.parametrize("name", ['a"b', "a\nb", "\x1b]0;x\x07", "\u202eF01", "=1+1", "日本", "[words]"])
def test_the_block_is_read_whatever_the_names_hold(tmp_path: Path, name: str) -> None:
    block = settings_block(log_with(f"[words.unit_id]\n{toml_key(name)} = {toml_text('F01')}"))
    printed = "\n".join(map(shown, block))
    assert tomllib.loads("\n".join(block)) == tomllib.loads(printed) == {"words": {"unit_id": {name: "F01"}}}
    file = tmp_path / "shop.toml"
    file.write_text(printed, encoding="utf-8")
    assert list(read_settings(file).words["unit_id"].values()) == ["F01"]


def test_what_is_said_behind_a_value_stays_there() -> None:
    block = settings_block(log_with('[words.rider]\n"gr#ey" = "A"  # or "B"', "step_h = 1 # hours"))
    assert block == ("step_h = 1 # hours", "[words.rider]", '"gr#ey" = "A"  # or "B"')


def test_what_is_to_be_filled_in_answers_nothing_by_itself() -> None:
    block = settings_block(log_with('[words.colour_rating]\nteal = ""  # 1 to 5', '[words.colour_rating]\nmud = "5"'))
    assert block == ("[words.colour_rating]", '# teal = ""  # 1 to 5', 'mud = "5"')


def test_no_proposal_is_no_block() -> None:
    assert settings_block(log_with(None, None)) == ()
