"""Ratings on a scale that may run from 0 to 4: read as levels of 1 to 5 they would all be one level too clean."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, Channel
from draincurve.schemas.checked_settings import toml_text
from draincurve.schemas.settings import Settings

FEWEST_ZEROS, LEAST_SHARE = 3, 0.02
"""Cells with 0, and their share of all rated ones, under which 0 is a slip."""
ZERO = r"^\s*0(?:[.,]0+)?\s*$"


def with_scales_from_zero(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """Asks about each channel with zeros and without the dirtiest level, and counts its ratings one level dirtier.

    So are the other channels without that level, as a shop seldom has two scales. The settings answer with any word
    for 0. The cells with 0 themselves stay held back.
    """
    open_channels = [
        channel
        for channel in CHANNELS
        if channel.rating in drains.raw.columns
        and "0" not in settings.words_of(channel.rating)
        and settings.clean_end.get(channel.rating) != RATING_HIGH
        and _lacks_the_dirtiest(drains, channel)
    ]
    zeros = {channel.name: _zeros(drains, channel) for channel in open_channels}
    if not any(zeros.values()):
        return drains
    findings = []
    for channel in open_channels:
        count = zeros[channel.name]
        other = next(name for name, rows in zeros.items() if rows)
        look = f"0 in {count} rows and no {RATING_HIGH}" if count else f"no {RATING_HIGH}, and {other} has 0"
        message = (
            f"{look}: does the scale run from 0 to 4? Until the settings say, all ratings count one level dirtier. "
            "If not, leave cells with 0 empty"
        )
        header, setting = drains.headers.get(channel.rating, channel.rating), _one_level_up(drains, channel)
        findings.append(file_finding(channel.rating, header, kind="asked", message=message, setting=setting))
        drains = drains.with_parsed(drains.parsed.with_columns(pl.col(channel.low, channel.high) + 1))
    return drains.with_findings(*findings)


def _lacks_the_dirtiest(drains: WorkingTable, channel: Channel) -> bool:
    dirtiest = drains.parsed[channel.high].max()
    return isinstance(dirtiest, int) and dirtiest < RATING_HIGH


def _zeros(drains: WorkingTable, channel: Channel) -> int:
    """Cells with 0, or none where they are slips."""
    zeros = int(drains.raw[channel.rating].cast(pl.String).str.contains(ZERO).sum())
    rated = drains.parsed[channel.high].count()
    return 0 if zeros < FEWEST_ZEROS or zeros < LEAST_SHARE * (zeros + rated) else zeros


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
