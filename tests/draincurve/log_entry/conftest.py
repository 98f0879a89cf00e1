"""Checking a log is the slow part of adding a drain to it, so each log is checked once for all tests here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date

import bench_logs
import pytest

from draincurve.log_entry import entry_check
from draincurve.pipeline.reading import Log, check_log
from draincurve.pipeline.reading.sources import SourceTable
from draincurve.schemas.settings import Settings


@pytest.fixture(autouse=True, scope="session")
def each_log_is_checked_once() -> Iterator[None]:
    """The same tables with the same settings give the same checked log, whoever asks."""
    known: dict[str, Log] = {}

    def checked(tables: Mapping[str, SourceTable], settings: Settings, *, as_of: date) -> Log:
        read = [
            (name, replace(table, frame=None), table.frame.to_dict(as_series=False)) for name, table in tables.items()
        ]
        key = repr((read, settings, as_of))
        if key not in known:
            known[key] = check_log(tables, settings, as_of=as_of)
        return known[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(entry_check, "check_log", checked)
        patch.setattr(bench_logs, "check_log", checked)
        yield
