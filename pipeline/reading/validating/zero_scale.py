"""Ratings on a scale that may run from 0 to 4: read as levels of 1 to 5 they would all be one level too clean."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, Channel
from draincurve.schemas.checked_settings import toml_text
from draincurve.schemas.settings import Settings

FEWEST_ZEROS, LEAST_SHARE = 3, 0.02
"""Cells with 0, and their share of all rated ones, under which 0 is a slip."""
_ZERO = r"^\s*0(?:[.,]0+)?\s*$"


def with_scales_from_zero(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """Asks about each channel with zeros and without the dirtiest level, and counts its ratings one level dirtier.

    The settings answer with any word for 0. The cells with 0 themselves stay held back.
    """
    findings = []
    for channel in CHANNELS:
        answered = "0" in settings.words_of(channel.rating) or settings.clean_end.get(channel.rating) == RATING_HIGH
        if channel.rating not in drains.raw.columns or answered:
            continue
        cells = drains.raw[channel.rating].cast(pl.String)
        zeros, levels = int(cells.str.contains(_ZERO).sum()), drains.parsed[channel.high]
        rated, dirtiest = levels.count(), levels.max()
        is_slip = zeros < FEWEST_ZEROS or zeros < LEAST_SHARE * (zeros + rated)
        if is_slip or not isinstance(dirtiest, int) or dirtiest >= RATING_HIGH:
            continue
        header = drains.headers.get(channel.rating, channel.rating)
        message = (
            f"0 in {zeros} rows and no {RATING_HIGH}: does the scale run from 0 to 4? Until the settings say, all "
            "ratings count one level dirtier. If not, leave these cells empty"
        )
        setting = _one_level_up(drains, channel)
        findings.append(file_finding(channel.rating, header, kind="asked", message=message, setting=setting))
        drains = drains.with_parsed(drains.parsed.with_columns(pl.col(channel.low, channel.high) + 1))
    return drains.with_findings(*findings)


def _one_level_up(drains: WorkingTable, channel: Channel) -> str:
    """Lines for the settings that read each rating of the log as one level more."""
    cells = drains.raw[channel.rating].cast(pl.String).str.strip_chars().alias("text")
    rated = drains.parsed.select(channel.low, channel.high).with_columns(cells).drop_nulls().unique().sort("text")
    words = [(text, low + 1, high + 1) for low, high, text in rated.iter_rows()]
    lines = [
        f"{toml_text(text)} = {toml_text(str(low) if low == high else f'{low}-{high}')}"
        for text, low, high in [("0", 1, 1), *words]
    ]
    return "\n".join([f"[words.{channel.rating}]", *lines])
