"""A log read and checked for a notebook: rows accepted, rows held back, and questions, as frames."""

from __future__ import annotations

from dataclasses import dataclass, replace
from html import escape
from typing import Any

import polars as pl

from draincurve.notebook.notebook_inputs import (
    DayInput,
    SettingsInput,
    TableInput,
    changed_inputs,
    checked_kind,
    frame_of,
    notebook_inputs,
)
from draincurve.notebook.pandas_frames import pandas_frame
from draincurve.pipeline.reading import Log, RunInputs
from draincurve.pipeline.reading import read as read_inputs
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class ReadLog:
    """A log that `read` has read and checked.

    accepted : frame of accepted rows by table (drains, and units, usage, ... where there are any)
    held_back : frame of the rows that were not used, with source, line, unit_id, day, column, value and reason; the
    line of a frame is its row, counted from 1
    asked : frame of the questions about rows that were kept, with source, line, unit_id, day, column, value, message,
        proposal (what the cell may have meant) and setting (lines for the settings that answer it)
    accounts : frame of the row accounting, read = accepted + held back for each table
    inputs, settings : what was read, and by which settings; log : the same results as polars frames

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=6, drains=36)
    >>> fleet.drains.loc[3, "oil_hours"] = 3000
    >>> log = draincurve.read(fleet.drains, fleet.as_of)
    >>> log
    <Log: 35 drains of 6 units; 1 row held back, 1 asked about>
    >>> print(log.held_back.loc[0, "line"], log.held_back.loc[0, "reason"])
    4 is over 2000 h: expected more than 0, at most 2000 h
    """

    inputs: RunInputs
    settings: Settings
    log: Log
    frames: str

    @property
    def accepted(self) -> dict[str, Any]:
        """Accepted rows by table."""
        return {name: frame_of(table, self.frames) for name, table in self.log.accepted.items()}

    @property
    def held_back(self) -> Any:
        """Rows that were not used, each with its reason."""
        return frame_of(self.log.held_back, self.frames)

    @property
    def asked(self) -> Any:
        """Questions about rows that were kept."""
        return frame_of(self.log.asked.drop("kind"), self.frames)

    @property
    def accounts(self) -> Any:
        """Row accounting of each table."""
        columns = ("table", "source", "read", "accepted", "held_back")
        rows = [[getattr(account, name) for name in columns] for account in self.log.accounts]
        return frame_of(pl.DataFrame(rows, schema=list(columns), orient="row"), self.frames)

    def _summary(self) -> str:
        drains = self.log.accepted["drains"]
        counted = _counted(drains.height, "drain")
        units = _counted(drains["unit_key"].n_unique(), "unit")
        held = f"{_counted(self.log.held_back_count, 'row')} held back"
        return f"{counted} of {units}; {held}, {self.log.asked.height} asked about"

    def __repr__(self) -> str:
        return f"<Log: {self._summary()}>"

    def _repr_html_(self) -> str:
        parts = [f"<p>{escape(self._summary())}</p>"]
        shown = (("Held back", self.log.held_back.drop("row"), "reason"), ("Asked about", self.log.asked, "message"))
        for title, table, words in shown:
            if table.height:
                rows = pandas_frame(
                    table.select("source", "line", "unit_id", "day", "column", "value", words).head(20)
                )
                parts.append(f"<p><strong>{title}</strong></p>{rows.to_html(index=False)}")
                if table.height > 20:
                    parts.append(f"<p>and {table.height - 20} more</p>")
        return "".join(parts)


def read(
    log: TableInput,
    as_of: DayInput = None,
    *,
    settings: SettingsInput = None,
    units: TableInput = None,
    usage: TableInput = None,
    bookings: TableInput = None,
    oils: TableInput = None,
    measurements: TableInput = None,
    parts: TableInput = None,
    hidden: bool = False,
    frames: str = "pandas",
) -> ReadLog:
    """Read and check a service log; a bad row stops nothing, it is held back with its reason.

    log : path of a CSV, XLSX, Parquet or SQLite file, a pattern of files, an address such as
    postgresql://user@host/database#drains, or a pandas, polars or Arrow frame with one row for each drain
    as_of : day the answers are for, a date or ISO text; today by default
    settings : a dict of the settings that differ from the defaults, Settings, or the path of a TOML file
    units, usage, bookings, oils, measurements, parts : further tables, given as the log is
    hidden : whether the hidden sheets and rows of a workbook are read too
    frames : pandas or polars, the kind of the frames in the result

    The cells of a frame are read as those of a CSV file are, so "12.5 h" or a rating of "2-3" will do. Raises
    SourceError for a log that cannot be used as a whole, SettingsError for wrong settings.

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=6, drains=36)
    >>> log = draincurve.read(fleet.drains, units=fleet.units)
    >>> log.accounts[["table", "read", "accepted", "held_back"]]
        table  read  accepted  held_back
    0  drains    36        36          0
    1   units     7         7          0
    """
    sides = {
        "units": units,
        "usage": usage,
        "bookings": bookings,
        "oils": oils,
        "measurements": measurements,
        "parts": parts,
    }
    return log_of(log, as_of, settings=settings, sides=sides, hidden=hidden, frames=frames)


def log_of(
    log: TableInput,
    as_of: DayInput,
    *,
    settings: SettingsInput,
    sides: dict[str, TableInput],
    frames: str,
    hidden: bool = False,
) -> ReadLog:
    """A log that is read already as it is, or read anew where something else is given with it; else `read`."""
    checked_kind(frames)
    if isinstance(log, ReadLog):
        given = [as_of, settings, *sides.values()]
        if all(item is None for item in given):
            return log if log.frames == frames else replace(log, frames=frames)
        inputs = changed_inputs(log.inputs, as_of, settings=settings, sides=sides)
    else:
        inputs = notebook_inputs(log, as_of, settings=settings, sides=sides, hidden=hidden)
    policy = inputs.policy()
    return ReadLog(inputs, policy, read_inputs(inputs, policy), frames)


def _counted(count: int, word: str) -> str:
    return f"{count:,} {word}" if count == 1 else f"{count:,} {word}s"
