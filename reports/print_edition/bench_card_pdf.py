"""The card for the bench: the rating scales in words, how to look, cautions, and fields to fill in by hand."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from draincurve.reports.content.trade_words import CAUTIONS, HOW_TO_LOOK
from draincurve.reports.print_edition.safe_text import plain_values
from draincurve.reports.print_edition.typesetting import typeset
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.settings import Settings

TEMPLATE = "bench_card.typ"
DRAINS_A_CARD = 3
MADE_ON = date(2026, 1, 1)
"""A card has no date of its own; a fixed one gives the same bytes every time."""


def write_bench_card(settings: Settings, path: Path) -> None:
    """Write the card, one page of A4, with the shop's limits and settling time; same settings, same bytes."""
    path.write_bytes(bench_card(settings))


def bench_card(settings: Settings) -> bytes:
    """The card as PDF."""
    return typeset(TEMPLATE, plain_values(_card(settings), {}), day=MADE_ON).pdf


def _card(settings: Settings) -> dict[str, Any]:
    minutes = f"{60.0 * settings.standard_settle_hours:.0f}"
    return {
        "drains": DRAINS_A_CARD,
        "minutes": minutes,
        "scales": [
            {"title": channel.title, "levels": channel.scale, "limit": settings.limit_rating(channel.name)}
            for channel in CHANNELS
        ],
        "how_to_look": [_at_this_shop(line, minutes) for line in HOW_TO_LOOK],
        "cautions": CAUTIONS[1:],
    }


def _at_this_shop(line: str, minutes: str) -> str:
    """A line on how to look, with this shop's settling time."""
    return line.replace("at 10 minutes", f"at {minutes} minutes")
