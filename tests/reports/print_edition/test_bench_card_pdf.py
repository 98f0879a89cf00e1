"""The card for the bench: one page, scales in words, the shop's limits, every field that the log takes."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pytest
from printed_text import page_texts, squeezed
from pypdf import PdfReader

from draincurve.reports.content.trade_words import CAUTIONS, HOW_TO_LOOK
from draincurve.reports.print_edition.bench_card_pdf import DRAINS_A_CARD, bench_card, write_bench_card
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.settings import Limits, Settings

FIELDS = (
    "Unit",
    "Date",
    "Hours",
    "on the oil",
    "meter",
    "Oil grade drained",
    "Filled, ml",
    "Drained, ml",
    "Minutes settled",
    "Rated by",
    "Rider",
    "Hours on this spring",
    "Drain method",
    "milky",
    "burnt",
    "leak",
    "New parts",
    "Note",
)


@pytest.mark.parametrize(
    "settings",
    [
        Settings(),
        Settings(limits=Limits({"colour": 2, "debris": 2}), standard_settle_hours=2160.0),
        Settings(limits=Limits({"colour": 5, "debris": 5}), standard_settle_hours=0.0),
    ],
)
def test_it_is_one_page_of_a4(settings: Settings) -> None:
    pages = PdfReader(io.BytesIO(bench_card(settings))).pages
    assert [(round(page.mediabox.width), round(page.mediabox.height)) for page in pages] == [(595, 842)]


def test_scales_ways_to_look_cautions_and_fields_are_there() -> None:
    (text,) = page_texts(bench_card(Settings()))
    for line in (*(level for channel in CHANNELS for level in channel.scale), *HOW_TO_LOOK, *CAUTIONS[1:]):
        assert squeezed(line) in text
    for field in FIELDS:
        assert text.count(squeezed(field)) >= DRAINS_A_CARD, field


def test_it_carries_the_shops_limits_and_settling_time() -> None:
    (text,) = page_texts(
        bench_card(replace(Settings(), limits=Limits({"colour": 3, "debris": 5}), standard_settle_hours=0.5))
    )
    assert "Colour·pastfitfrom3" in text
    assert "Debris·pastfitfrom5" in text
    assert "30minutes" in text
    assert "Debrisfirstat30minutes" in text
    assert "at10minutes" not in text


def test_same_settings_same_bytes(tmp_path: Path) -> None:
    write_bench_card(Settings(), tmp_path / "card.pdf")
    assert (tmp_path / "card.pdf").read_bytes() == bench_card(Settings())
