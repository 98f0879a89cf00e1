"""Intervals of a log in memory, by the steps that decide them: no file, no judging, no report."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace

import polars as pl
from small_logs import AS_OF

from draincurve.pipeline.deciding import Decided, decide
from draincurve.pipeline.describing import describe
from draincurve.pipeline.fitting import fit
from draincurve.pipeline.reading import Log, check_log
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.settings import Settings

FEW_DRAWS = Settings(posterior_draws=200)


def checked(rows: list[dict], settings: Settings = FEW_DRAWS) -> Log:
    """The drains as `plan` would read and check them from a file."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    cells = {name: pl.Series([_text(row.get(name)) for row in rows], dtype=pl.String) for name in names}
    frame = pl.DataFrame(cells | {"_line": pl.Series(range(2, len(rows) + 2), dtype=pl.Int64)})
    table = SourceTable("drains", "log.csv", "0" * 64, frame)
    return check_log({"drains": table}, settings, as_of=date.fromisoformat(AS_OF))


def _text(cell: object) -> str | None:
    return None if cell in (None, "") else str(cell)


def decisions(log: Log, settings: Settings = FEW_DRAWS) -> Decided:
    """What is decided on a log, without turned units."""
    described = describe(log, settings)
    return decide(
        described, fit(described, settings), log=log, judged=SimpleNamespace(changepoints=None), settings=settings,
        as_of=log.as_of,
    )  # fmt: skip


def intervals(log: Log, settings: Settings = FEW_DRAWS) -> dict[str, float]:
    """Interval of each unit [h]; one that is not known is none."""
    table = decisions(log, settings).next_service.select("unit_id", pl.col("interval_h").fill_null(0.0))
    return dict(table.iter_rows())


def never_longer(found: dict[str, float], known: dict[str, float]) -> None:
    """No unit's interval is longer than it is known to be."""
    assert found.keys() == known.keys()
    longer = {unit: (known[unit], hours) for unit, hours in found.items() if hours > known[unit]}
    assert not longer
