"""What `draincurve backtest` leaves behind: backtest.csv, backtest.json and backtest.html, all or none of them."""

from __future__ import annotations

import json
import shutil
import tempfile
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl
from matplotlib.figure import Figure

from draincurve.pipeline.judging.backtest import (
    BacktestResult,
    ChannelBacktest,
    first_screen_sentence,
    holding_sentence,
)
from draincurve.reports.content.sections.backtest_section import backtest_section
from draincurve.reports.content.trade_words import CAUTIONS
from draincurve.reports.page.environment import inlined_style, page_environment
from draincurve.reports.tables.csv_tables import write_table
from draincurve.schemas.backtest_table import COLUMNS, checked_backtest
from draincurve.schemas.errors import SourceError

BACKTEST_FILES = ("backtest.csv", "backtest.json", "backtest.html")
DECIMALS = 5


def write_backtest(result: BacktestResult | str, folder: Path, log_name: str, as_of: date) -> None:
    """The three files into `folder`; what else lies there stays.

    Where nothing could be tried (a sentence), the table has no rows, and page and record say why. Raises
    ContractError where the table breaks its schema and SourceError where the folder cannot be written to.
    """
    rows = pl.DataFrame(schema=list(COLUMNS)) if isinstance(result, str) else checked_backtest(result.rows)
    record = json.dumps(backtest_record(result, log_name, as_of), indent=2, ensure_ascii=False, allow_nan=False)
    page = render_backtest(result, log_name, as_of)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        staged = Path(tempfile.mkdtemp(prefix=".backtest-", dir=folder))
        try:
            write_table(rows, staged / BACKTEST_FILES[0])
            (staged / BACKTEST_FILES[1]).write_text(f"{record}\n", encoding="utf-8", newline="\n")
            (staged / BACKTEST_FILES[2]).write_bytes(page.encode("utf-8", "replace"))
            for name in BACKTEST_FILES:
                (staged / name).replace(folder / name)
        finally:
            shutil.rmtree(staged, ignore_errors=True)
    except OSError as fault:
        reason = fault.strerror or fault
        raise SourceError(f"{folder}: cannot be written ({reason}); name a folder you may write to") from fault


def backtest_record(result: BacktestResult | str, log_name: str, as_of: date) -> dict[str, Any]:
    """The summary as plain values, numbers to 5 decimals."""
    head: dict[str, Any] = {"log": log_name, "as_of": as_of.isoformat()}
    if isinstance(result, str):
        return head | {"why_not": result, "doubt": None, "summary": None, "note": None, "channels": []}
    doubt = first_screen_sentence(result)
    return head | {
        "why_not": None,
        "doubt": doubt,
        "summary": doubt or holding_sentence(result),
        "note": result.note,
        "channels": [_channel_record(channel) for channel in result.channels],
        "without": dict(result.without),
    }


def render_backtest(result: BacktestResult | str, log_name: str, as_of: date) -> str:
    """One self-contained page; the same result gives the same bytes."""
    section = backtest_section(Figure(), result)
    return (
        page_environment()
        .get_template("backtest_page.html")
        .render(
            backtest=section,
            headline=_headline(result, section.doubt),
            log_name=log_name,
            as_of=as_of,
            cautions=CAUTIONS,
            style=inlined_style(),
        )
    )


def _headline(result: BacktestResult | str, doubt: bool) -> str:
    if isinstance(result, str):
        return "Earlier predictions could not be tried."
    if doubt:
        return "Earlier predictions did not all hold."
    if not any(channel.fleet.beaten for channel in result.channels):
        return "It is too early to say whether predictions hold."
    return "Earlier predictions have been holding."


def _channel_record(channel: ChannelBacktest) -> dict[str, Any]:
    record: dict[str, Any] = _plain(asdict(channel))
    return record | {"model_loses": channel.model_loses, "understated": channel.understated}


def _plain(value: Any) -> Any:
    """Dates as ISO text, numbers rounded, tuples as lists."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    return round(value, DECIMALS) if isinstance(value, float) else value
