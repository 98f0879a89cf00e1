"""The files of `draincurve backtest`: its tables, backtest.json and backtest.html, all or none of them."""

from __future__ import annotations

import json
import shutil
import tempfile
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from draincurve.pipeline.judging.backtest import (
    BacktestResult,
    ChannelBacktest,
    LogBacktest,
    MeasuredBacktest,
    QuantityBacktest,
    first_screen_sentence,
    holding_sentence,
)
from draincurve.reports.page.backtest_page import backtest_html
from draincurve.reports.tables.csv_tables import write_table
from draincurve.schemas.backtest_measured_table import checked_backtest_measured
from draincurve.schemas.backtest_table import COLUMNS, checked_backtest
from draincurve.schemas.errors import SourceError

BACKTEST_FILES = ("backtest.csv", "backtest.json", "backtest.html")
MEASURED_FILE = "backtest_measured.csv"
DECIMALS = 5


def write_backtest(result: LogBacktest, folder: Path, *, log_name: str, as_of: date) -> None:
    """Writes the three files into `folder`, with measured values a fourth; other files there are kept.

    Where no ratings could be tested, backtest.csv has no rows, and page and record say why.
    Raises ContractError where the table breaks its schema and SourceError where the folder cannot be written to.
    """
    rated, measured = result.rated, result.measured
    rows = pl.DataFrame(schema=list(COLUMNS)) if isinstance(rated, str) else checked_backtest(rated.rows)
    tables = {BACKTEST_FILES[0]: rows}
    if measured is not None:
        tables[MEASURED_FILE] = checked_backtest_measured(measured.rows)
    plain = backtest_record(rated, log_name, as_of=as_of, measured=measured)
    record = json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False)
    page = backtest_html(rated, log_name, as_of=as_of, measured=measured)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        staged = Path(tempfile.mkdtemp(prefix=".backtest-", dir=folder))
        try:
            for name, table in tables.items():
                write_table(table, staged / name)
            (staged / BACKTEST_FILES[1]).write_text(f"{record}\n", encoding="utf-8", newline="\n")
            (staged / BACKTEST_FILES[2]).write_bytes(page.encode("utf-8", "replace"))
            for name in {*BACKTEST_FILES, *tables}:
                (staged / name).replace(folder / name)
        finally:
            shutil.rmtree(staged, ignore_errors=True)
    except OSError as fault:
        reason = fault.strerror or fault
        raise SourceError(f"{folder}: cannot be written ({reason}); name a folder you may write to") from fault


def backtest_record(
    result: BacktestResult | str, log_name: str, *, as_of: date, measured: MeasuredBacktest | None
) -> dict[str, Any]:
    """The summary as plain values, numbers to 5 decimals."""
    head: dict[str, Any] = {"log": log_name, "as_of": as_of.isoformat(), "measured": _measured_record(measured)}
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


def _measured_record(measured: MeasuredBacktest | None) -> dict[str, Any] | None:
    if measured is None:
        return None
    return {
        "summary": measured.sentence,
        "note": measured.note,
        "quantities": [_quantity_record(backtest) for backtest in measured.quantities],
        "without": dict(measured.without),
    }


def _quantity_record(backtest: QuantityBacktest) -> dict[str, Any]:
    record: dict[str, Any] = _json_value(asdict(backtest))
    return record | {"doubted": backtest.doubted, "verdict": backtest.verdict}


def _channel_record(channel: ChannelBacktest) -> dict[str, Any]:
    record: dict[str, Any] = _json_value(asdict(channel))
    return record | {"model_loses": channel.model_loses, "understated": channel.understated}


def _json_value(value: Any) -> Any:
    """Dates as ISO text, numbers rounded, tuples as lists."""
    if isinstance(value, dict):
        return {key: _json_value(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_json_value(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    return round(value, DECIMALS) if isinstance(value, float) else value
